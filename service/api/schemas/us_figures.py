"""US figures beside the metric ones of an answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.units import to_us, us_name


def with_us_figures(answer: Any) -> Any:
    """`answer` with a US figure beside each metric one: floor_area_m2 gets floor_area_ft2, and so on.

    Quantities that name their unit in a member of its own get `us_unit` and the figures as `us_...`.
    """
    if isinstance(answer, list):
        return [with_us_figures(member) for member in answer]
    if not isinstance(answer, dict):
        return answer
    told = {name: value if name == "room" else with_us_figures(value) for name, value in answer.items()}
    for name, value in answer.items():
        if isinstance(value, float | int) and not isinstance(value, bool):
            told |= _us_figure(name, value)
    return told | _us_quantities(answer)


def _us_figure(name: str, value: float) -> dict[str, float]:
    named = us_name(name)
    if named is None:
        return {}
    told, unit = named
    return {told: round(to_us(value, unit)[0], 3)}


def _us_quantities(answer: Mapping[str, Any]) -> dict[str, Any]:
    unit = answer.get("unit")
    if not isinstance(unit, str) or to_us(1.0, unit)[1] == unit:
        return {}
    named = [
        name for name in ("required", "with_allowance", "quantity") if isinstance(answer.get(name), float)
    ]
    return {"us_unit": to_us(1.0, unit)[1]} | {
        f"us_{name}": round(to_us(answer[name], unit)[0], 3) for name in named
    }
