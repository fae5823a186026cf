"""The stored rows. Every table of an organisation has its rows walled off by row-level security."""

from service.store.models.audit import AuditEntry
from service.store.models.ballparks import BallparkModel
from service.store.models.base import Base
from service.store.models.catalogue import (
    Agreement,
    PriceItem,
    PriceList,
    ProductRow,
    Supplier,
)
from service.store.models.imprints import QuoteImprint
from service.store.models.labour import LabourCalibration, LabourRateRow, LabourTableRow
from service.store.models.money import ExchangeRate, TaxRules
from service.store.models.office import ApiKey, Customer, IdempotencyKey, Organisation, TermsRow
from service.store.models.quote_parts import QuoteLine, QuoteOption
from service.store.models.quotes import (
    Quote,
    QuoteConditions,
    QuoteCounter,
    QuoteEvent,
    QuoteRevision,
    QuoteTakeoff,
)
from service.store.models.repricing import (
    Repricing,
    RepricingChange,
    RepricingConditions,
    RepricingPart,
    RepricingPrice,
    RepricingRole,
    RepricingSupplier,
)
from service.store.models.webhooks import Webhook, WebhookDelivery, WebhookEvent

__all__ = [
    "Agreement",
    "ApiKey",
    "AuditEntry",
    "BallparkModel",
    "Base",
    "Customer",
    "ExchangeRate",
    "IdempotencyKey",
    "LabourCalibration",
    "LabourRateRow",
    "LabourTableRow",
    "Organisation",
    "PriceItem",
    "PriceList",
    "ProductRow",
    "Quote",
    "QuoteConditions",
    "QuoteCounter",
    "QuoteEvent",
    "QuoteImprint",
    "QuoteLine",
    "QuoteOption",
    "QuoteRevision",
    "QuoteTakeoff",
    "Repricing",
    "RepricingChange",
    "RepricingConditions",
    "RepricingPart",
    "RepricingPrice",
    "RepricingRole",
    "RepricingSupplier",
    "Supplier",
    "TaxRules",
    "TermsRow",
    "Webhook",
    "WebhookDelivery",
    "WebhookEvent",
]
