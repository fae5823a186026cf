"""Commands that a new installation begins with."""

from __future__ import annotations

import os

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
