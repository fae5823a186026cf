"""The arguments of the longer commands, apart from what runs them, which takes seconds to import."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TypeAlias
from uuid import UUID

from service.quoting.imports.columns import fields
from service.store.repricing.selection import STATES

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"
Run = Callable[[argparse.Namespace], int]

DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}
FLAGS: Mapping[str, str] = {
    "dry-run": "tell what the file would change and store nothing",
    "create-products": "store products that are not known; wants columns for role and unit",
    "activate": "put the list in force",
    "accept-rejected": "go live without the rows that were left out",
    "confirm-jumps": "go live with prices that move by more than the organisation's limit",
}
STANDARDS = ("us", "uk", "de")
FIT_SEED, CHECK_SEED = 1, 2


def import_prices(commands: Commands, run: Run) -> None:
    parser = commands.add_parser("import-prices", help="import a supplier's price file (CSV, XLSX)")
    parser.add_argument("file", type=Path)
    parser.add_argument("--supplier", help="name or id; may be left out where the office has one supplier")
    parser.add_argument("--list", help="name of the price list; the file's name where left out")
    parser.add_argument("--valid-from", type=date.fromisoformat, help="first day; today where left out")
    parser.add_argument("--encoding", help="of a CSV file that is not UTF-8")
    parser.add_argument("--delimiter", choices=DELIMITERS)
    parser.add_argument("--decimal", choices=(".", ","))
    parser.add_argument(
        "--map", action="append", default=[], metavar="HEADING=FIELD", help=f"fields: {', '.join(fields())}"
    )
    for flag, meaning in FLAGS.items():
        parser.add_argument(f"--{flag}", action="store_true", help=meaning)
    parser.add_argument(
        "--key", help="an API key of the organisation; else OFFICE_KEY, else the demo's office"
    )
    parser.set_defaults(demo=False)
    parser.set_defaults(run=run)


def reprice(commands: Commands, run: Run) -> None:
    parser = commands.add_parser("reprice", help="reprice quotes: a preview, or new drafts beside offers")
    parser.add_argument("--mode", choices=("preview", "revise"), default="preview")
    parser.add_argument("--choice", choices=("keep", "choose"), default="keep")
    parser.add_argument("--threshold", type=Decimal, default=Decimal(0), help="what a new basket must save")
    parser.add_argument("--state", action="append", choices=STATES, help="several times; all where left out")
    parser.add_argument("--price-list", type=UUID, help="only quotes that hold a product of this list")
    parser.add_argument("--price-date", type=date.fromisoformat, help="today where left out")
    parser.add_argument("--percent", type=Decimal, help="only changes of so many percent or more")
    parser.add_argument("--amount", type=Decimal, help="only changes of so much or more")
    parser.add_argument("--margin-floor", type=Decimal, default=Decimal(0), help="percent of net")
    parser.add_argument("--no-worker", action="store_true", help="leave the work to workers that run already")
    parser.add_argument(
        "--key", help="an API key of the organisation; else OFFICE_KEY, else the demo's office"
    )
    parser.set_defaults(run=run, demo=False)


def add_organisation(commands: Commands, run: Run) -> None:
    parser = commands.add_parser("add-organisation", help="a new organisation; prints its first API key")
    parser.add_argument("name")
    parser.add_argument("--currency", type=_currency, required=True, help="ISO 4217")
    parser.add_argument("--standards", choices=STANDARDS, required=True)
    parser.add_argument("--time-zone", type=_time_zone, default="UTC", help="such as Europe/Berlin")
    parser.set_defaults(run=run)


def _currency(text: str) -> str:
    from babel import Locale

    if text not in Locale("en").currencies:
        raise argparse.ArgumentTypeError("no currency of ISO 4217")
    return text


def _time_zone(text: str) -> str:
    from zoneinfo import available_timezones

    if text not in available_timezones():
        raise argparse.ArgumentTypeError("no time zone of the IANA database")
    return text


def ballparks(commands: Commands, run: Run) -> None:
    parser = commands.add_parser("ballparks", help="fit the demo's ballpark models, or check them")
    parser.add_argument("what", choices=("fit", "check"))
    parser.add_argument("--rooms", type=int, default=600, help="of each kind")
    parser.add_argument("--kind", help="of rooms, to check that one alone")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument(
        "--keep",
        type=Path,
        default=Path("build/ballparks"),
        help="folder where prices are kept as they are found; the same command goes on with them",
    )
    parser.add_argument("--seed", type=int, help=f"of the rooms: {FIT_SEED} to fit, {CHECK_SEED} to check")
    parser.set_defaults(run=run)
