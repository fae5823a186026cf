"""A take-off with the organisation's own trade values and labour table."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Session

from service.quoting import office
from service.quoting.labour.tables import labour_table_for
from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.takeoff.room import Job


def take_off_for(session: Session, job: Job, on: date, crew: str | None = None) -> Takeoff:
    """Take the job off with the values and a crew's rates in force on a day."""
    values = office.trade_values(session, job.standards, on)
    return take_off(job, values, labour_table_for(session, on, crew))
