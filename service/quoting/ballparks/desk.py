"""What a ballpark is answered from without asking the database each time: keys, origins and models."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from uuid import UUID

from sqlalchemy import Engine

from service.ballpark.model import Model
from service.quoting.ballparks.fresh import Fresh
from service.store import ballparks as store
from service.store import keys as key_store
from service.store.session import open_session, transaction


@dataclass(frozen=True, slots=True)
class PublicKey:
    """A key in force: whose it is, what it may, and from which pages it may be used."""

    org_id: UUID
    scopes: frozenset[str]
    publishable: bool
    origins: frozenset[str]
    requests_per_minute: int | None
    counted_as: str


@dataclass(frozen=True, slots=True)
class KeptModel:
    """A model with its day and currency."""

    id: UUID
    model: Model
    price_date: date
    currency: str


class Desk:
    """One process's view of keys, origins and models, a few seconds old at most."""

    def __init__(self, engine: Engine, pepper: str) -> None:
        self._engine, self._pepper = engine, pepper
        self._keys: Fresh[str, PublicKey | None] = Fresh(self._read_key)
        self._origins: Fresh[str, bool] = Fresh(self._read_origin)
        self._models: Fresh[UUID, Mapping[str, KeptModel]] = Fresh(self._read_models)

    def key(self, key: str) -> PublicKey | None:
        """The key in force, None for any other."""
        return self._keys.get(key)

    def origin_known(self, origin: str) -> bool:
        """Whether pages of this origin may ask anything at all."""
        return self._origins.get(origin)

    def models(self, org_id: UUID) -> Mapping[str, KeptModel]:
        """By region; empty where none is fitted yet."""
        return self._models.get(org_id)

    def _read_key(self, key: str, _: PublicKey | None) -> PublicKey | None:
        with open_session(self._engine) as session:
            row = key_store.key_in_force(session, key, self._pepper)
            if row is None:
                return None
            key_store.note_use(session, row.id)
            session.commit()
            scopes, origins = frozenset(row.scopes), frozenset(row.origins)
            return PublicKey(
                row.org_id, scopes, row.publishable, origins, row.requests_per_minute, str(row.id)
            )

    def _read_origin(self, origin: str, _: bool | None) -> bool:
        with transaction(self._engine) as session:
            return store.origin_known(session, origin)

    def _read_models(self, org_id: UUID, held: Mapping[str, KeptModel] | None) -> Mapping[str, KeptModel]:
        """Those held where they are still in force."""
        with transaction(self._engine, org_id) as session:
            ids = store.model_ids(session)
            if held is not None and ids == {region: kept.id for region, kept in held.items()}:
                return held
            return {
                row.region: KeptModel(row.id, _unpacked(row.model), row.price_date, row.currency)
                for row in store.models(session)
            }


@lru_cache(maxsize=64)
def _unpacked(kept: bytes) -> Model:
    return Model.from_bytes(kept)
