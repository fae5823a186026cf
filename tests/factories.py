"""Factories for all stored rows. Everything in them is invented.

Each wants the session whose organisation it belongs to: `SupplierFactory(session=session)`. The rows that it
points at are made with it.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

import factory
from sqlalchemy import inspect
from sqlalchemy.orm import Session, object_session

from service.pricing.model import TaxRule, Terms, Uplift
from service.store import models
from service.store.ids import new_id
from service.store.session import org_of
from service.store.taxes import stored_rules
from service.store.terms import terms_body


class OfficeFactory(factory.Factory):  # type: ignore[misc]
    """Builds with an organisation's id; creates through the session handed in as `session`."""

    class Meta:
        abstract = True

    session: Session | None = None
    org_id: Any = factory.LazyAttribute(lambda o: org_of(o.session) if o.session else new_id())

    @classmethod
    def _build(cls, model_class: type[Any], *args: Any, session: Session | None, **values: Any) -> Any:
        return model_class(*args, **values)

    @classmethod
    def _create(cls, model_class: type[Any], *args: Any, session: Session, **values: Any) -> Any:
        row = model_class(*args, **values)
        session.add(row)
        session.flush()
        return row


def part(of: type[factory.Factory], **values: Any) -> factory.SubFactory:
    """A row of the same organisation that this one points at."""
    same = {name: factory.SelfAttribute(f"..{name}") for name in ("session", "org_id")}
    return factory.SubFactory(of, **same, **values)


class OrganisationFactory(OfficeFactory):
    class Meta:
        model = models.Organisation

    org_id: UUID = factory.LazyFunction(new_id)
    name = "Invented Floors"
    currency = "USD"
    standards = "us"
    time_zone = "UTC"
    number_prefix = "Q"
    value_overrides: dict[str, Any] = factory.LazyFunction(dict)


class ApiKeyFactory(OfficeFactory):
    class Meta:
        model = models.ApiKey

    id = factory.LazyFunction(new_id)
    key_hash = factory.Sequence(lambda n: f"{n:064x}")
    prefix = "invent"
    name = "Office program"
    scopes = factory.LazyFunction(lambda: ["quotes", "prices"])


class CustomerFactory(OfficeFactory):
    class Meta:
        model = models.Customer

    id = factory.LazyFunction(new_id)
    name = factory.Sequence(lambda n: f"Customer {n}")
    email = factory.Sequence(lambda n: f"customer{n}@example.com")
    address = factory.LazyFunction(lambda: {"line": "1 Invented Street"})


class TermsFactory(OfficeFactory):
    class Meta:
        model = models.TermsRow

    class Params:
        terms = factory.LazyFunction(
            lambda: Terms(
                id="",
                name="",
                contingency_percent=Decimal(5),
                uplifts={"default": Uplift("markup", Decimal(20))},
                taxes=(TaxRule("sales tax", Decimal("8.25"), "materials"),),
            )
        )

    id = factory.LazyFunction(new_id)
    name = factory.Sequence(lambda n: f"Terms {n}")
    is_default = False
    body = factory.LazyAttribute(lambda o: terms_body(o.terms))


class ExchangeRateFactory(OfficeFactory):
    class Meta:
        model = models.ExchangeRate

    id = factory.LazyFunction(new_id)
    from_currency = "EUR"
    to_currency = "USD"
    rate = Decimal("1.0825")
    valid_from = date(2026, 1, 1)


class TaxRulesFactory(OfficeFactory):
    class Meta:
        model = models.TaxRules

    id = factory.LazyFunction(new_id)
    region = "Sampleland"
    valid_from = date(2026, 1, 1)
    rules = factory.LazyFunction(lambda: stored_rules([TaxRule("materials", Decimal(20), "materials")]))


class IdempotencyKeyFactory(OfficeFactory):
    class Meta:
        model = models.IdempotencyKey

    key = factory.Sequence(lambda n: f"request-{n}")
    fingerprint = "0" * 64
    status = 201
    headers = factory.LazyFunction(lambda: {"Content-Type": "application/json"})
    body = b"{}"
    expires_at = factory.LazyFunction(lambda: datetime.now(UTC) + timedelta(hours=24))


class SupplierFactory(OfficeFactory):
    class Meta:
        model = models.Supplier

    id = factory.LazyFunction(new_id)
    name = factory.Sequence(lambda n: f"Supplier {n}")
    currency = "USD"
    delivery_charge = Decimal("45.0000")


class ProductFactory(OfficeFactory):
    class Meta:
        model = models.ProductRow

    id = factory.LazyFunction(new_id)
    role = "grout"
    name = factory.Sequence(lambda n: f"Grout {n}")
    unit = "kg"
    attributes = factory.LazyFunction(lambda: {"joint_min_mm": 2, "joint_max_mm": 12})


class PriceListFactory(OfficeFactory):
    class Meta:
        model = models.PriceList

    id = factory.LazyFunction(new_id)
    supplier_id = factory.SelfAttribute("supplier.id")
    name = factory.Sequence(lambda n: f"Price list {n}")
    valid_from = date(2026, 1, 1)

    class Params:
        supplier = part(SupplierFactory)

    @classmethod
    def _create(cls, model_class: Any, *args: Any, **values: Any) -> Any:
        """A list begins as a draft; one of another state gets there by the way that it has to go."""
        state = values.pop("state", "draft")
        row = super()._create(model_class, *args, **values)
        for step in {"draft": (), "active": ("active",), "withdrawn": ("active", "withdrawn")}[state]:
            row.state = step
            inspect(row).session.flush()
        return row


class PriceItemFactory(OfficeFactory):
    class Meta:
        model = models.PriceItem

    id = factory.LazyFunction(new_id)
    price_list_id = factory.SelfAttribute("price_list.id")
    product_id = factory.SelfAttribute("product.id")
    pack_size = Decimal("10.0000")
    price = Decimal("24.5000")
    min_packs = 1

    class Params:
        price_list = part(PriceListFactory)
        product = part(ProductFactory)


class AgreementFactory(OfficeFactory):
    class Meta:
        model = models.Agreement

    id = factory.LazyFunction(new_id)
    supplier_id = factory.SelfAttribute("supplier.id")
    name = factory.Sequence(lambda n: f"Letter {n}")
    role = "grout"
    percent = Decimal("5.0000")
    valid_from = date(2026, 1, 1)

    class Params:
        supplier = part(SupplierFactory)


class LabourTableFactory(OfficeFactory):
    class Meta:
        model = models.LabourTableRow

    id = factory.LazyFunction(new_id)
    name = factory.Sequence(lambda n: f"Rates {n}")
    valid_from = date(2026, 1, 1)
    crew = 2
    productive_hours_per_day = Decimal("6.500")
    minimum_hours = Decimal("4.000")
    hourly_cost = Decimal("38.0000")
    currency = "USD"


class LabourRateFactory(OfficeFactory):
    class Meta:
        model = models.LabourRateRow

    labour_table_id = factory.SelfAttribute("table.id")
    activity = "lay_membrane"
    driver = "area"
    unit = "m2"
    hours = Decimal("0.120000")

    class Params:
        table = part(LabourTableFactory)


class LabourCalibrationFactory(OfficeFactory):
    class Meta:
        model = models.LabourCalibration

    id = factory.LazyFunction(new_id)
    labour_table_id = factory.SelfAttribute("table.id")
    bookings: Any = factory.LazyFunction(lambda: {"jobs": []})
    result: Any = factory.LazyFunction(lambda: {"rates": [], "jobs": []})

    class Params:
        table = part(LabourTableFactory)


TOLD = {"by": "A. Person", "reference": "PO 1"}
"""What an acceptance must say."""
PATHS = {"draft": ("draft",), "issued": ("draft", "issued"), "superseded": ("draft", "superseded")}
"""How a revision gets into a state; into the others from being issued."""


class QuoteFactory(OfficeFactory):
    class Meta:
        model = models.Quote

    id = factory.LazyFunction(new_id)
    number = factory.Sequence(lambda n: f"Q-2026-{n:04}")


class QuoteTakeoffFactory(OfficeFactory):
    class Meta:
        model = models.QuoteTakeoff

    id = factory.LazyFunction(new_id)
    quote_id = factory.SelfAttribute("quote.id")
    request = factory.LazyFunction(lambda: {"rooms": []})
    takeoff = factory.LazyFunction(dict)
    basis = factory.LazyFunction(dict)

    class Params:
        quote = part(QuoteFactory)


class QuoteConditionsFactory(OfficeFactory):
    class Meta:
        model = models.QuoteConditions

    id = factory.LazyFunction(new_id)
    body = factory.LazyFunction(dict)


class QuoteRevisionFactory(OfficeFactory):
    """A revision with the events that lead to `state`; the quote's own state follows from them."""

    class Meta:
        model = models.QuoteRevision

    quote_id = factory.SelfAttribute("quote.id")
    revision = 1
    takeoff_id = factory.SelfAttribute("taken.id")
    conditions_id = factory.SelfAttribute("conditions.id")
    rest = factory.LazyFunction(dict)
    price_date = date(2026, 3, 1)
    valid_until = date(2026, 3, 31)
    currency = "USD"
    net = Decimal("100.00")
    tax = Decimal("8.25")
    gross = Decimal("108.25")
    trade_edition = "2026-01-01/us"
    engine_version = "1"

    class Params:
        quote = part(QuoteFactory)
        taken = part(QuoteTakeoffFactory, quote=factory.SelfAttribute("..quote"))
        conditions = part(QuoteConditionsFactory)

    @factory.post_generation
    def state(row: Any, create: bool, state: str | None, **_: Any) -> None:  # noqa: N805
        session = object_session(row)
        if session is None:
            return
        for kind in PATHS.get(state or "draft", ("draft", "issued", str(state))):
            session.add(_event(row, kind))
            session.flush()
        session.refresh(session.get_one(models.Quote, (row.org_id, row.quote_id)))


def _event(row: models.QuoteRevision, kind: str) -> models.QuoteEvent:
    last_day = row.valid_until if kind == "issued" else None
    return models.QuoteEvent(
        org_id=row.org_id,
        quote_id=row.quote_id,
        revision=row.revision,
        kind=kind,
        at=datetime.now(UTC),
        valid_until=last_day,
        **(TOLD if kind == "accepted" else {}),
    )


class QuoteEventFactory(OfficeFactory):
    class Meta:
        model = models.QuoteEvent

    id = factory.LazyFunction(new_id)
    quote_id = factory.SelfAttribute("of_revision.quote_id")
    revision = factory.SelfAttribute("of_revision.revision")
    kind = "issued"
    at = factory.LazyFunction(lambda: datetime.now(UTC))
    valid_until = factory.LazyAttribute(lambda o: date(2026, 3, 31) if o.kind == "issued" else None)

    class Params:
        of_revision = part(QuoteRevisionFactory)


class QuoteOptionFactory(OfficeFactory):
    class Meta:
        model = models.QuoteOption

    quote_id = factory.SelfAttribute("of_revision.quote_id")
    revision = factory.SelfAttribute("of_revision.revision")
    position = 1
    name = "Another tile"
    request = factory.LazyFunction(lambda: {"name": "Another tile"})
    takeoff = factory.LazyFunction(dict)
    priced = factory.LazyFunction(dict)

    class Params:
        of_revision = part(QuoteRevisionFactory)


class QuoteLineFactory(OfficeFactory):
    class Meta:
        model = models.QuoteLine

    quote_id = factory.SelfAttribute("of_revision.quote_id")
    revision = factory.SelfAttribute("of_revision.revision")
    position = 1
    kind = "material"
    role = "grout"
    uplift_group = "setting"
    description = "Grout"
    packs = 2
    pack_size = Decimal("10.0000")
    quantity = Decimal("17.3000")
    unit = "kg"
    cost = Decimal("24.5000")
    price = Decimal("61.7400")
    amount = Decimal("49.0000")

    class Params:
        of_revision = part(QuoteRevisionFactory)


class QuoteCounterFactory(OfficeFactory):
    class Meta:
        model = models.QuoteCounter

    year = 2026
    last = 7


class WebhookFactory(OfficeFactory):
    class Meta:
        model = models.Webhook

    id = factory.LazyFunction(new_id)
    url = "https://hooks.example.com/floors"
    events = factory.LazyFunction(lambda: ["quote.issued", "quote.accepted"])
    secret = "sealed"


class WebhookEventFactory(OfficeFactory):
    class Meta:
        model = models.WebhookEvent

    id = factory.LazyFunction(new_id)
    type = "quote.issued"
    body = "{}"


class WebhookDeliveryFactory(OfficeFactory):
    class Meta:
        model = models.WebhookDelivery

    id = factory.LazyFunction(new_id)
    webhook_id = factory.SelfAttribute("webhook.id")
    event_id = factory.SelfAttribute("event.id")

    class Params:
        webhook = part(WebhookFactory)
        event = part(WebhookEventFactory)


class RepricingFactory(OfficeFactory):
    class Meta:
        model = models.Repricing

    id = factory.LazyFunction(new_id)
    mode = "preview"
    choice = "keep"


class OfRepricing(OfficeFactory):
    """A row of a run."""

    class Meta:
        abstract = True

    repricing_id = factory.SelfAttribute("repricing.id")

    class Params:
        repricing = part(RepricingFactory)


class RepricingPartFactory(OfRepricing):
    class Meta:
        model = models.RepricingPart

    number = 0
    first_quote = factory.LazyFunction(new_id)
    last_quote = factory.LazyFunction(new_id)


class RepricingPriceFactory(OfRepricing):
    class Meta:
        model = models.RepricingPrice

    supplier_id = factory.LazyFunction(new_id)
    product_id = factory.LazyFunction(new_id)
    pack_size = Decimal(10)
    from_packs = 1
    price_list_id = factory.LazyFunction(new_id)
    price = stated = Decimal("24.50")
    split = False


class RepricingSupplierFactory(OfRepricing):
    class Meta:
        model = models.RepricingSupplier

    supplier_id = factory.LazyFunction(new_id)
    name = "Supplier"
    delivery_charge = Decimal("45.00")
    freight_per_kg = carry_in = split_pack_surcharge = Decimal(0)


class RepricingRoleFactory(OfRepricing):
    class Meta:
        model = models.RepricingRole

    role = "membrane"
    changed_at = datetime(2026, 3, 1, tzinfo=UTC)
    begins = date(2026, 3, 1)
    selected = False


class RepricingConditionsFactory(OfRepricing):
    class Meta:
        model = models.RepricingConditions

    old_id = new_id = factory.SelfAttribute("conditions.id")
    buyer = "consumer"
    other_terms = False
    minor = 2
    half_even = False
    valid_days = 30

    class Params:
        conditions = part(QuoteConditionsFactory)


class RepricingChangeFactory(OfRepricing):
    class Meta:
        model = models.RepricingChange

    quote_id = factory.SelfAttribute("quote.id")
    outcome = "changed"
    state = "draft"
    revision = 1

    class Params:
        quote = part(QuoteFactory)


class BallparkModelFactory(OfficeFactory):
    class Meta:
        model = models.BallparkModel

    region = ""
    id = factory.LazyFunction(new_id)
    model = b"a fitted model"
    price_date = date(2026, 3, 1)
    currency = "USD"
    basis = "0" * 12


ALL: tuple[type[OfficeFactory], ...] = (
    BallparkModelFactory,
    OrganisationFactory,
    ApiKeyFactory,
    CustomerFactory,
    TermsFactory,
    ExchangeRateFactory,
    TaxRulesFactory,
    IdempotencyKeyFactory,
    SupplierFactory,
    ProductFactory,
    PriceListFactory,
    PriceItemFactory,
    AgreementFactory,
    LabourTableFactory,
    LabourRateFactory,
    LabourCalibrationFactory,
    QuoteFactory,
    QuoteTakeoffFactory,
    QuoteConditionsFactory,
    QuoteRevisionFactory,
    QuoteEventFactory,
    QuoteLineFactory,
    QuoteOptionFactory,
    QuoteCounterFactory,
    WebhookFactory,
    WebhookEventFactory,
    WebhookDeliveryFactory,
    RepricingFactory,
    RepricingPartFactory,
    RepricingPriceFactory,
    RepricingSupplierFactory,
    RepricingRoleFactory,
    RepricingConditionsFactory,
    RepricingChangeFactory,
)
