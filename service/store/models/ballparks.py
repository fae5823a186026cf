"""Fitted ballpark models: one for each region whose taxes the office keeps."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from sqlalchemy.orm import Mapped, mapped_column

from service.store.ids import new_id
from service.store.models.base import Base, Currency, OrgRow


class BallparkModel(OrgRow, Base):
    """A model as bytes; `id` is new with every fit, `basis` the fingerprint of what it was fitted to."""

    __tablename__ = "ballpark_models"

    region: Mapped[str] = mapped_column(primary_key=True)
    id: Mapped[UUID] = mapped_column(default=new_id)
    model: Mapped[bytes]
    price_date: Mapped[date]
    currency: Mapped[Currency]
    basis: Mapped[str]
