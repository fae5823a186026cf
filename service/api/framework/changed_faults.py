"""Where the faults of an alternative are told: at the change that made them, in the request as it came."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from service.api.framework.problems import Fault, Problem, invalid, pointer
from service.quoting.catalogue import UnknownReference
from service.quoting.errors import Unpriceable
from service.quoting.variants import BadVariant


def placed(document: Mapping[str, Any], member: str, place: int, faults: Iterable[Fault]) -> Iterator[Fault]:
    """Each fault at the change that made it, else where the rooms have it."""
    changes = document[member][place].get("changes", {})
    for where, fault in ((fault.pointer or "", fault) for fault in faults):
        _, _, _, *inside = where.split("/", 3) if where.startswith("/rooms/") else ("", "", "")
        name = inside[0].split("/")[0] if inside else ""
        if name in changes:
            yield Fault(fault.detail, pointer=f"{pointer(member, place, 'changes')}/{inside[0]}")
        elif not name and changes:
            yield Fault(fault.detail, pointer=pointer(member, place, "changes"))
        else:
            yield fault


def problem_of(document: Mapping[str, Any], member: str, bad: BadVariant) -> Problem:
    """What is wrong with an alternative of the request."""
    where, asked = pointer(member, bad.number), document[member][bad.number]
    if isinstance(bad.fault, Unpriceable):
        faults = tuple(Fault(f"{gap.role}: {gap.message}", pointer=where) for gap in bad.fault.gaps)
        return Problem(422, f"{asked['name']} cannot be bought on the price date.", "unpriceable", faults)
    if isinstance(bad.fault, UnknownReference):
        own = "terms_id" in asked and bad.fault.field == "/terms_id"
        return invalid(Fault(str(bad.fault), pointer=(where if own else "") + bad.fault.field))
    if bad.fault.pointer.startswith("/labour_rates/"):
        return Problem(409, f"{bad.fault.detail}. See /v1/labour-rates.", "not-set-up")
    faults = (Fault(bad.fault.detail, pointer=bad.fault.pointer),)
    return invalid(*placed(document, member, bad.number, faults))
