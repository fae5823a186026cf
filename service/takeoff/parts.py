"""Adding the parts of a quantity up, so that its reasons always make the whole."""

from __future__ import annotations

from collections.abc import Iterable
from math import fsum

from service.takeoff.answer import Fitness, Material, Reason, Step, Unit

Part = tuple[str, float]


def material(
    role: str,
    unit: Unit,
    parts: Iterable[Part],
    loss: Part,
    *,
    room: str,
    fitness: tuple[Fitness, ...] = (),
    one_system: bool = False,
) -> tuple[Material, ...]:
    """One material as the sum of its parts with `loss` (its name and its share); none where there is no part.

    The reasons add up to `with_allowance`.
    """
    reasons = [Reason(text, quantity) for text, quantity in parts if quantity > 0]
    required = fsum(reason.quantity for reason in reasons)
    if not required:
        return ()
    name, share = loss
    lost = (Reason(f"{name} {share:.0%}", required * share),) if share else ()
    return (
        Material(
            role=role,
            unit=unit,
            required=required,
            with_allowance=required * (1 + share),
            reasons=(*reasons, *lost),
            fitness=fitness,
            one_system=one_system,
            rooms=(room,),
        ),
    )


def joined(*steps: Step) -> Step:
    """Several steps as one, in their order."""
    return Step(
        materials=tuple(material for step in steps for material in step.materials),
        work=tuple(work for step in steps for work in step.work),
        findings=tuple(finding for step in steps for finding in step.findings),
        waits=tuple(wait for step in steps for wait in step.waits),
        cautions=tuple(caution for step in steps for caution in step.cautions),
    )
