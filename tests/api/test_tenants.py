"""Every operation of the description called with another organisation's ids, by every kind of key."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import pytest
from sqlalchemy import Engine, create_engine, event
from werkzeug.test import TestResponse

from service import create_app
from service.settings import Settings
from service.store import keys
from service.store.engine import make_engine, sqlalchemy_url
from service.store.ids import new_id
from service.store.session import open_session
from tests import factories
from tests.api.conftest import PEPPER, Office
from tests.api.test_openapi import OPERATIONS, SPEC
from tests.conftest import make_org

FOREIGN = "Foreign"
"""What every name of the other organisation begins with; ours has no such word."""
PAGE = "https://www.example.com"
OF_PATH: Mapping[str, type[factories.OfficeFactory]] = {
    "agreements": factories.AgreementFactory,
    "calibrations": factories.LabourCalibrationFactory,
    "customers": factories.CustomerFactory,
    "deliveries": factories.WebhookDeliveryFactory,
    "exchange-rates": factories.ExchangeRateFactory,
    "keys": factories.ApiKeyFactory,
    "labour-rates": factories.LabourTableFactory,
    "price-lists": factories.PriceListFactory,
    "products": factories.ProductFactory,
    "quotes": factories.QuoteFactory,
    "repricings": factories.RepricingFactory,
    "suppliers": factories.SupplierFactory,
    "taxes": factories.TaxRulesFactory,
    "terms": factories.TermsFactory,
    "webhooks": factories.WebhookFactory,
}
"""The rows that an id in a path names, by the step of the path before it."""
OF_BODY: Mapping[str, str] = {
    "supplier_id": "suppliers",
    "preferred": "suppliers",
    "customer_id": "customers",
    "customers": "customers",
    "product_id": "products",
    "product": "products",
    "products": "products",
    "grout": "products",
    "price_list": "price-lists",
    "terms_id": "terms",
    "labour_table_id": "labour-rates",
    "quote_id": "quotes",
    "parent_id": "quotes",
    "subject_id": "products",
    "key": "keys",
    "supplier": "suppliers",
}
"""The rows that an id in a body or a query names, by its member."""
NAMED_BY_ID = [(m, p, o) for m, p, o in OPERATIONS if re.search(r"\{\w+_id\}", p)]
LISTS = [(m, p, o) for m, p, o in OPERATIONS if p.startswith("/v1/") and m == "get" and "{" not in p]
SCOPES = ("quotes", "prices", "reprice", "ballpark", "admin")


@dataclass(frozen=True, slots=True)
class Other:
    """The other organisation: its rows' ids by the step of the path, and texts that would give it away."""

    ids: Mapping[str, str]
    telling: frozenset[str]

    def leaks(self, answer: TestResponse, sent: str) -> list[str]:
        """What the answer tells of it beyond what the caller sent."""
        return [text for text in self.telling if text in answer.text and text not in sent]


@pytest.fixture
def other(live_engine: Engine) -> Other:
    org_id = new_id()
    with open_session(live_engine, org_id) as session:
        organisation = make_org(org_id)
        organisation.name = FOREIGN
        session.add(organisation)
        session.flush()
        rows = {step: _foreign(factory, session) for step, factory in OF_PATH.items()}
        factories.QuoteRevisionFactory(session=session, quote=rows["quotes"])
        session.commit()
        ids = {step: str(row.id) for step, row in rows.items()}
    return Other(ids, frozenset({FOREIGN, str(org_id), *ids.values()}))


def _foreign(factory: type[factories.OfficeFactory], session: Any) -> Any:
    named = {"name": FOREIGN} if hasattr(factory._meta.model, "name") else {}
    return factory(session=session, **named)


def path_of(path: str, ids: Mapping[str, str]) -> str:
    """The path with the other's ids; a revision is a number, which every quote has."""
    steps = path.split("/")
    filled = [
        step if not step.startswith("{") else "1" if step == "{revision}" else ids[before]
        for before, step in zip(["", *steps], steps, strict=False)
    ]
    return "/".join(filled)


def sent_with(operation: Mapping[str, Any]) -> dict[str, Any]:
    """A body that the description calls good, for an operation that wants one."""
    wanted = operation.get("requestBody", {})
    content = wanted.get("content", {}) if wanted.get("required") else {}
    if "application/json" in content:
        return {"json": content["application/json"]["example"]}
    return {"data": b"code,price\nA,1.00\n", "content_type": "text/csv"} if content else {}


def call(office: Office, method: str, path: str, **sent: Any) -> TestResponse:
    headers = {"Authorization": f"Bearer {office.key}", "If-Match": "*", "Origin": PAGE}
    return office.client.open(path, method=method.upper(), headers=headers, **sent)


def walked(office: Office, other: Other) -> Iterator[tuple[str, int, list[str]]]:
    """Every operation that names a thing by its id: what it answers to the other's id, and what leaks."""
    for method, path, operation in NAMED_BY_ID:
        asked = path_of(path, other.ids)
        answer = call(office, method, asked, **sent_with(operation))
        yield operation["operationId"], answer.status_code, other.leaks(answer, asked)


def of_all_kinds(new_office: Callable[..., Office], live_engine: Engine) -> dict[str, Office]:
    """Ours, opened by a key of each scope and by one for web pages."""
    ours = new_office()
    org_id = _org_of(ours, live_engine)
    offices = {"admin": ours}
    with open_session(live_engine, org_id) as session:
        for scope in SCOPES[:-1]:
            keys.add_key(session, f"key-{scope}-{org_id}", PEPPER, scope, [scope])
            offices[scope] = Office(ours.client, f"key-{scope}-{org_id}")
        keys.add_key(session, f"pub-{org_id}", PEPPER, "page", ["ballpark"], origins=[PAGE])
        offices["publishable"] = Office(ours.client, f"pub-{org_id}")
        session.commit()
    return offices


def _org_of(office: Office, live_engine: Engine) -> Any:
    with open_session(live_engine) as session:
        found = keys.key_in_force(session, office.key, PEPPER)
        assert found is not None
        return found.org_id


def test_every_step_of_a_path_has_its_rows() -> None:
    named = {before for _, path, _ in NAMED_BY_ID for before, _ in re.findall(r"([\w-]+)/\{(\w+_id)\}", path)}
    assert named == OF_PATH.keys()


def test_no_key_of_ours_opens_anything_of_another_organisation(
    new_office: Callable[..., Office], other: Other, live_engine: Engine
) -> None:
    """404, since there is nothing; 403 where the key may not call the operation at all."""
    answered: dict[str, set[int]] = {}
    for kind, office in of_all_kinds(new_office, live_engine).items():
        found = list(walked(office, other))
        unfit = [each for each in found if each[1] not in {403, 404} or each[2]]
        assert not unfit, f"{kind}: {unfit}"
        answered[kind] = {status for _, status, _ in found}
    assert answered["admin"] == {404}
    assert answered["quotes"] == answered["prices"] == answered["reprice"] == {403, 404}
    assert answered["ballpark"] == answered["publishable"] == {403}


def test_lists_and_reads_of_ours_tell_nothing_of_another(demo: Office, other: Other) -> None:
    """Every list as it is, and filtered by each id of the other's that it takes."""
    for _, path, operation in LISTS:
        taken = [p for p in operation.get("parameters", []) if p.get("schema", {}).get("format") == "uuid"]
        asked = [path, *(f"{path}?{p['name']}={other.ids[OF_BODY[p['name']]]}" for p in taken)]
        for each in asked:
            answer = call(demo, "get", each)
            assert answer.status_code in {200, 404}, answer.text
            assert not other.leaks(answer, each), each
            assert each == path or not answer.json.get("items"), each


def places(schema: Mapping[str, Any], path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Where a body takes an id."""
    if "$ref" in schema:
        schema = SPEC["components"]["schemas"][schema["$ref"].rpartition("/")[2]]
    if schema.get("format") == "uuid":
        yield path
    for name, inner in schema.get("properties", {}).items():
        yield from places(inner, (*path, name))
    if "items" in schema:
        yield from places(schema["items"], (*path, 0))
    if isinstance(schema.get("additionalProperties"), dict):
        yield from places(schema["additionalProperties"], (*path, "grout"))
    for inner in (*schema.get("oneOf", ()), *schema.get("anyOf", ()), *schema.get("allOf", ())):
        yield from places(inner, path)


def put_in(body: Any, path: tuple[Any, ...], value: str) -> Any:
    """The body with `value` at the place, what leads there made where it is not."""
    body = copy.deepcopy(body)
    at = body
    for step, following in pairwise(path):
        empty: Any = [] if following == 0 else {}
        if step == 0 and not at:
            at.append(empty)
        at = at.setdefault(step, empty) if isinstance(at, dict) else at[0]
    if isinstance(at, list):
        at[:1] = [value]
    else:
        at[path[-1]] = value
    return body


def beside(example: Mapping[str, Any], place: tuple[Any, ...]) -> dict[str, Any]:
    """The example without what may not stand beside an id at this place, under a name of its own."""
    body = {**copy.deepcopy(example), **({"name": "Another"} if "name" in example else {})}
    for unfit in {"product_id": ("role",), "customer_id": ("customer",)}.get(place[-1], ()):
        body.pop(unfit, None)
    if place[-1] == "quote_id":
        body["jobs"][0].pop("quantities")
    if "tiles" in place:
        body["rooms"][0]["pattern"] = {"kind": "modular", "tiles": [{}, {"length": 100, "width": 100}]}
    return body


WITH_IDS = [
    (method, path, place, operation["requestBody"]["content"]["application/json"]["example"])
    for method, path, operation in OPERATIONS
    if "{" not in path and "application/json" in operation.get("requestBody", {}).get("content", {})
    for place in sorted(
        set(places(operation["requestBody"]["content"]["application/json"]["schema"])), key=str
    )
]


def test_ids_of_another_in_a_body_are_no_ids(demo: Office, other: Other) -> None:
    assert len(WITH_IDS) > 15
    supplier = demo.get("/v1/suppliers").json["items"][0]["id"]
    for method, path, place, example in WITH_IDS:
        sent = other.ids[OF_BODY[next(step for step in reversed(place) if step != 0)]]
        ours = {"supplier_id": supplier} if "supplier_id" in example else {}
        body = put_in(beside({**example, **ours}, place), place, sent)
        answer = call(demo, method, path, json=body)
        where = "".join(f"/{step}" for step in place)
        assert not other.leaks(answer, json.dumps(body)), (path, place)
        assert answer.status_code == 422, (path, place, answer.text)
        assert where.endswith(answer.json["errors"][0]["pointer"]), (path, place, answer.text)


STATED = re.compile(r"(\w+\.)?org_id = %\(\w+\)s(::UUID)?")


@pytest.fixture
def unfiltered(database_url: str) -> Iterator[Callable[[Engine], list[str]]]:
    """Takes the condition on the organisation out of every statement of an engine; tells of which."""
    engines = []

    def strip(engine: Engine) -> list[str]:
        stripped: list[str] = []
        engines.append(engine)

        @event.listens_for(engine, "before_cursor_execute", retval=True)
        def without(_c: Any, _cursor: Any, statement: str, parameters: Any, *_: Any) -> tuple[str, Any]:
            bare = STATED.sub("TRUE", statement)
            if bare != statement:
                stripped.append(bare)
            return bare, parameters

        return stripped

    yield strip
    for engine in engines:
        engine.dispose()


def test_without_the_conditions_of_the_queries_nothing_foreign_is_seen_either(
    office: Office,
    other: Other,
    settings: Settings,
    database_url: str,
    unfiltered: Callable[[Engine], list[str]],
) -> None:
    """The database's own wall holds; without it (a login that it does not bind) the same calls find all."""
    walls = make_engine(database_url)
    stripped = unfiltered(walls)
    behind = Office(create_app(settings, walls).test_client(), office.key)
    found = list(walked(behind, other))
    assert len(stripped) > len(found)
    assert not [each for each in found if each[1] != 404 or each[2]]
    assert behind.get("/v1/suppliers").json["items"] == []

    no_walls = create_engine(sqlalchemy_url(database_url))
    unfiltered(no_walls)
    in_the_open = Office(create_app(settings, no_walls).test_client(), office.key)
    assert FOREIGN in call(in_the_open, "get", "/v1/suppliers").text
    assert call(in_the_open, "get", f"/v1/customers/{other.ids['customers']}").status_code == 200
