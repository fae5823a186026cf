"""Commands that a new installation begins with."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import Engine

from service.__main__ import main
from service.settings import Settings
from tests.api.conftest import Office
from tests.conftest import PEPPER


@pytest.fixture(autouse=True)
def environment(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(os.environ, "DATABASE_URL", str(settings.database_url))
    monkeypatch.setitem(os.environ, "ENVIRONMENT", "production")
    monkeypatch.setitem(os.environ, "KEY_PEPPER", PEPPER)


def test_a_new_organisation_opens_with_the_printed_key(
    app: Flask, live_engine: Engine, capsys: pytest.CaptureFixture[str]
) -> None:
    said = ["--currency", "EUR", "--standards", "de", "--time-zone", "Europe/Berlin"]
    assert main(["add-organisation", "Erfundene Böden", *said]) == 0
    office = Office(app.test_client(), capsys.readouterr().out.strip())
    told = office.get("/v1/organisation").json
    assert (told["name"], told["time_zone"]) == ("Erfundene Böden", "Europe/Berlin")
    assert office.get("/v1/labour-rates").json["items"][0]["currency"] == "EUR"
    room = {"name": "Flur", "rectangle": {"length": 3015, "width": 2109}}
    taken = office.post("/v1/takeoffs", {"rooms": [{**room, "tile": {"length": 300, "width": 300}}]})
    assert taken.status_code == 200
    assert taken.json["labour_hours"]["total"] > 0


@pytest.mark.parametrize(
    "said", [["--currency", "XXQ"], ["--currency", "EUR", "--standards", "fr"], ["--time-zone", "Europe"]]
)
def test_what_an_organisation_cannot_have_is_refused(
    said: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    given = {"--currency": "EUR", "--standards": "de"} | dict(zip(said[::2], said[1::2], strict=True))
    with pytest.raises(SystemExit, match="2"):
        main(["add-organisation", "Office", *(word for pair in given.items() for word in pair)])
    assert said[-2] in capsys.readouterr().err


def test_the_listing_of_settings_tells_what_is_wrong(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["settings"]) == 0
    monkeypatch.setitem(os.environ, "POOL_SIZE", "many")
    monkeypatch.setitem(os.environ, "POOLSIZE", "9")
    assert main(["settings"]) == 2
    said = capsys.readouterr()
    assert PEPPER not in said.out
    assert said.err.splitlines() == [
        "settings: POOLSIZE is not one of ours and looks like POOL_SIZE",
        "settings: POOL_SIZE must be a whole number above 0",
    ]


def test_a_file_taken_in_by_command_is_on_record_under_its_key(
    app: Flask, live_engine: Engine, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    main(["add-organisation", "Erfundene Fliesen", "--currency", "EUR", "--standards", "de"])
    key = capsys.readouterr().out.strip()
    office = Office(app.test_client(), key)
    office.post("/v1/suppliers", {"name": "Erfundener Handel", "currency": "EUR"})
    file = tmp_path / "prices.csv"
    file.write_text("Code;Name;Role;Unit;Pack size;Price\nG1;Grout;grout;kg;5;12,50\n")
    assert main(["import-prices", str(file), "--key", key, "--create-products", "--activate"]) == 0
    entries = office.get("/v1/audit").json["items"]
    keys = {entry["key"] for entry in entries if "price" in entry["subject"]}
    assert (len(keys), None in keys) == (1, False), entries
