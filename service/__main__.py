"""The command line: `python -m service --help` lists its commands."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path

from service.commands import parsers
from service.settings import Settings, SettingsError, describe, load_settings, misspelt


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; 0 when it went well, 2 for wrong settings."""
    options = _parser().parse_args(arguments)
    for name, like in misspelt(os.environ).items():
        print(f"settings: {name} is not one of ours and looks like {like}", file=sys.stderr)
    try:
        status: int = options.run(options)
    except SettingsError as fault:
        print(f"settings: {fault}", file=sys.stderr)
        return 2
    return status


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m service", description=__doc__)
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    demo = commands.add_parser("demo", help="boot everything, price three rooms, print the quote")
    demo.set_defaults(run=_demo)
    serve = commands.add_parser("serve", help="serve the API")
    serve.add_argument("--host", default="127.0.0.1")
    serve.add_argument("--port", type=int, default=8000)
    serve.add_argument(
        "--workers", type=int, help="processes that answer requests; as many as cores, 2 or more"
    )
    serve.add_argument("--with-worker", action="store_true", help="also run a queue worker")
    serve.add_argument("--demo", action="store_true", help="with the seeded, invented organisation")
    serve.add_argument("--key", help="with --demo: the API key of that organisation")
    serve.set_defaults(run=_serve)
    health = commands.add_parser("health", help="ask a service on this machine whether it is ready")
    health.add_argument("--port", type=int, default=8000)
    health.set_defaults(run=_health)
    commands.add_parser("worker", help="run queued jobs").set_defaults(run=_worker)
    commands.add_parser("migrate", help="bring the database to the newest schema").set_defaults(run=_migrate)
    parsers.add_organisation(commands, _add_organisation)
    parsers.import_prices(commands, _import_prices)
    parsers.reprice(commands, _reprice)
    parsers.ballparks(commands, _ballparks)
    openapi = commands.add_parser("openapi", help="write the OpenAPI file")
    openapi.add_argument("--check", action="store_true", help="only compare; 1 when it differs")
    openapi.set_defaults(run=_openapi)
    commands.add_parser("settings", help="list the settings in force").set_defaults(run=_settings)
    return parser


@contextmanager
def _database(settings: Settings) -> Iterator[Settings]:
    """These settings with a database address: the one given, or the embedded server's while it runs."""
    if not settings.embedded:
        yield settings
        return
    from service.store.embedded import embedded_postgres

    with embedded_postgres(settings.data_dir) as url:
        yield replace(settings, database_url=url)


def _demo(options: argparse.Namespace) -> int:
    from service.demo import run_demo

    with _database(load_settings(os.environ)) as settings:
        print(run_demo(settings))
    return 0


def _serve(options: argparse.Namespace) -> int:
    from service.demo import seed
    from service.serve import cores, serve, worker_process
    from service.store.migrate import migrate

    if options.key and not options.demo:
        raise SettingsError("--key goes with --demo")
    with ExitStack() as stack:
        settings = stack.enter_context(_database(load_settings(os.environ)))
        if settings.environment == "development":
            migrate(settings)
        if options.demo:
            print(f"API key of the invented organisation: {seed(settings, options.key)}", flush=True)
        if options.with_worker:
            stack.enter_context(worker_process(settings))
        serve(settings, options.host, options.port, options.workers or max(2, cores()))
    return 0


def _health(options: argparse.Namespace) -> int:
    """0 where it answers that it is ready, else 1: what a container engine asks."""
    from urllib.error import URLError
    from urllib.request import urlopen

    try:
        with urlopen(f"http://127.0.0.1:{options.port}/readyz", timeout=5):
            return 0
    except (URLError, OSError) as fault:
        print(f"health: {fault}", file=sys.stderr)
        return 1


def _worker(options: argparse.Namespace) -> int:
    from service.jobs.worker import run_worker
    from service.serve import begin_process

    with _database(load_settings(os.environ)) as settings:
        begin_process(settings)
        run_worker(settings)
    return 0


def _migrate(options: argparse.Namespace) -> int:
    from service.store.migrate import migrate

    with _database(load_settings(os.environ)) as settings:
        migrate(settings)
    return 0


def _add_organisation(options: argparse.Namespace) -> int:
    from service.commands import add_organisation

    return _on_an_office(options, add_organisation.run)


def _import_prices(options: argparse.Namespace) -> int:
    from service.commands import import_prices

    return _on_an_office(options, import_prices.run)


def _reprice(options: argparse.Namespace) -> int:
    from service.commands import reprice

    return _on_an_office(options, reprice.run)


def _ballparks(options: argparse.Namespace) -> int:
    from service.commands import ballparks

    return _on_an_office(options, ballparks.run)


def _on_an_office(options: argparse.Namespace, command: Callable[[argparse.Namespace, Settings], int]) -> int:
    """A command for one organisation; a database of its own holds the invented office."""
    from service.store.migrate import migrate

    given = load_settings(os.environ)
    with _database(given) as settings:
        options.demo = given.embedded
        if given.environment == "development":
            migrate(settings)
        return command(options, settings)


def _openapi(options: argparse.Namespace) -> int:
    from service.api.app import spec_json

    file = Path("openapi/openapi.json")
    if options.check:
        same = file.read_text("utf-8") == spec_json()
        print(f"{file} {'is up to date' if same else 'differs: run python -m service openapi'}")
        return 0 if same else 1
    file.write_text(spec_json(), "utf-8")
    return 0


def _settings(options: argparse.Namespace) -> int:
    """The list, then what is wrong with it, as at a start."""
    for row in describe(os.environ):
        source = row.source if row.source == "default" else f"{row.source}; default {row.default}"
        print(f"{row.name:27} {row.value:40} ({source}) {row.meaning}")
    load_settings(os.environ)
    return 0


if __name__ == "__main__":
    sys.exit(main())
