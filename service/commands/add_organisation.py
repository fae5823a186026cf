"""`add-organisation`: what no key can do, since there is none yet."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from service.quoting.opening import open_organisation
from service.settings import Settings
from service.store.engine import make_engine
from service.store.ids import new_id
from service.store.session import transaction


def run(options: argparse.Namespace, settings: Settings) -> int:
    """Store it and print its key, which cannot be seen again."""
    engine = make_engine(settings.database_url or "")
    today = datetime.now(UTC).astimezone(ZoneInfo(options.time_zone)).date()
    said = (options.name, options.currency, options.standards, options.time_zone)
    try:
        with transaction(engine, new_id()) as session:
            key = open_organisation(session, *said, today, settings.key_pepper)
    finally:
        engine.dispose()
    print(key)
    return 0
