"""What the site adds to a job: coming once, carrying the goods in, protecting a home that is lived in."""

from __future__ import annotations

from service.takeoff.answer import Material, Reason, Step, Work
from service.takeoff.factors import Factor
from service.takeoff.room import Site
from service.trade.values import TradeValues

MM_PER_M = 1000.0


def take(site: Site, tiled_area_m2: float, values: TradeValues) -> Step:
    """Mobilising [job], carrying [m2 floor and m2 m], protection [m2] of an occupied home.

    Goods go up or down stairs where there is no lift, `floor` times for every square metre of tile, and
    along the way in beyond the part that every job has.
    """
    floors = 0 if site.lift else abs(site.floor)
    free = values.number("site.free_carry")
    way = max(0.0, site.carry / MM_PER_M - free)
    covered = _covered_m2(site, tiled_area_m2, values)
    work = (
        Work("mobilise", "fixed", 1, "job"),
        Work("carry_stairs", "area", tiled_area_m2 * floors, "m2 floor", reason=_stairs(floors)),
        Work("carry_distance", "area", tiled_area_m2 * way, "m2 m", reason=f"{way:g} m beyond {free:g} m"),
        Work("protect", "area", covered, "m2", reason="occupied home"),
    )
    return Step(materials=_protection(covered, values), work=tuple(w for w in work if w.quantity > 0))


def daily_setup(site: Site, person_days: float, values: TradeValues) -> Work:
    """Setting up and cleaning down for each day of one person; longer in an occupied home."""
    key = "site.occupied_daily_factor"
    occupied = Factor("occupied", values.number(key), "occupied home", values.citation(key))
    return Work("daily_setup", "day", person_days, "day", (occupied,) if site.occupied else ())


def _stairs(floors: int) -> str:
    return f"{floors} {'floor' if floors == 1 else 'floors'} by stairs, no lift"


def _covered_m2(site: Site, tiled_area_m2: float, values: TradeValues) -> float:
    if not site.occupied:
        return 0.0
    return tiled_area_m2 + site.carry / MM_PER_M * values.number("site.route_width")


def _protection(covered_m2: float, values: TradeValues) -> tuple[Material, ...]:
    if not covered_m2:
        return ()
    lap = covered_m2 * values.number("site.protection_lap")
    reasons = (Reason("new floor and way in covered", covered_m2), Reason("laps", lap))
    return (Material("protection", "m2", covered_m2, covered_m2 + lap, reasons),)
