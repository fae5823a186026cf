"""A take-off with the organisation's own trade values and labour table."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Session

from service.quoting import office
from service.quoting.errors import Unready
from service.store import terms as term_store
from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.takeoff.rates import LabourTable
from service.takeoff.room import Job


def take_off_for(session: Session, job: Job, on: date) -> Takeoff:
    """Take the job off with the values and rates in force on a day."""
    values = office.trade_values(session, job.standards, on)
    return take_off(job, values, labour_table_for(session, on))


def labour_table_for(session: Session, on: date) -> LabourTable:
    table = term_store.labour_table(session, on)
    if table is None:
        raise Unready(f"no labour rates hold on {on.isoformat()}; store a table with POST /v1/labour-rates")
    return table
