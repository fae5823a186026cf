"""Ballpark models and public keys: written by the job, read by the look-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import cast
from uuid import UUID

from sqlalchemy import delete, exists, func, or_, select
from sqlalchemy.orm import Session

from service.store.models import ApiKey, BallparkModel, ProductRow
from service.store.session import bind_origin, org_of


def model_ids(session: Session) -> dict[str, UUID]:
    """The model in force of each region, without its bytes."""
    own = BallparkModel.org_id == org_of(session)
    found = session.execute(select(BallparkModel.region, BallparkModel.id).where(own))
    return {row.region: row.id for row in found}


def models(session: Session) -> Sequence[BallparkModel]:
    return session.scalars(select(BallparkModel).where(BallparkModel.org_id == org_of(session))).all()


def bases(session: Session) -> set[str]:
    """The fingerprints of what the models in force were fitted to."""
    own = BallparkModel.org_id == org_of(session)
    return set(session.scalars(select(BallparkModel.basis).where(own)))


def replace_models(
    session: Session, by_region: Mapping[str, bytes], price_date: date, currency: str, basis: str
) -> None:
    """These models and no others; those in force answer until the transaction commits."""
    org_id = org_of(session)
    session.execute(delete(BallparkModel).where(BallparkModel.org_id == org_id))
    session.add_all(
        BallparkModel(
            org_id=org_id, region=region, model=kept, price_date=price_date, currency=currency, basis=basis
        )
        for region, kept in by_region.items()
    )
    session.flush()


def origin_known(session: Session, origin: str) -> bool:
    """Whether a publishable key in force names this origin; the session need not be bound."""
    bind_origin(session, origin)
    named = ApiKey.origins.contains([origin])
    lasting = or_(ApiKey.expires_at.is_(None), ApiKey.expires_at > func.now())
    found = select(exists().where(ApiKey.publishable, ApiKey.revoked_at.is_(None), lasting, named))
    return bool(session.scalar(found))


def offices(session: Session) -> list[UUID]:
    """The organisations that have a key for ballparks; for office_batch, bound to none."""
    asked = select(ApiKey.org_id).where(ApiKey.scopes.contains(["ballpark"]), ApiKey.revoked_at.is_(None))
    return cast("list[UUID]", sorted(set(session.scalars(asked))))


def roles(session: Session) -> set[str]:
    """All roles that the organisation's products fill."""
    return set(
        session.scalars(select(ProductRow.role).where(ProductRow.org_id == org_of(session)).distinct())
    )
