"""Example bodies for the published description. Firms, people, articles and prices are invented."""

from __future__ import annotations

from typing import Any

Example = dict[str, Any]

ROOM: Example = {
    "name": "Shower room",
    "outline": [[0, 0], [3600, 0], [3600, 2400], [0, 2400]],
    "walls": "all",
    "doorways": [{"wall": 0, "offset": "400 mm", "width": 900, "adjoining": "carpet", "adjoining_level": 8}],
    "obstructions": [{"kind": "drain", "centre": [900, 1200], "diameter": 110}],
    "exposure": "wet",
    "substrate": {
        "kind": "concrete_on_ground",
        "flatness": {"gap": 5, "under": "3 m"},
        "moisture": {"method": "rh", "value": 75},
        "age_days": 90,
    },
    "existing": {"covering": "resilient", "remove": True},
    "built_year": 1985,
    "falls": "point",
    "tile": {"length": 300, "width": 300, "thickness": 9, "material": "porcelain"},
    "pattern": {"kind": "running_bond", "offset": "1/3"},
    "origin": "corner",
    "joint": 3,
    "perimeter_joint": 6,
    "skirting": {"height": 80},
}
UTILITY_ROOM: Example = {
    "name": "Utility room",
    "rectangle": {"length": "11 ft 9 3/4 in", "width": "2.4 m"},
    "tile": {"length": 300, "width": 300},
}
JOB: Example = {
    "rooms": [ROOM, UTILITY_ROOM],
    "standards": "us",
    "site": {"floor": 2, "lift": False, "carry": "15 m", "occupied": True},
}
QUOTE: Example = {
    **JOB,
    "customer": {"name": "Invented customer, 4 Example Row", "email": "customer@example.com"},
    "price_date": "2026-03-02",
    "valid_days": 30,
}
QUOTE_PATCH: Example = {"valid_days": 14, "site": {"floor": 0}}
VARIATION: Example = {"rooms": [UTILITY_ROOM], "valid_days": 14}
ISSUE: Example = {
    "revision": 1,
    "accept_assumptions": [
        "Utility room: Say what the floor is built of: the price assumes a sound, absorbent ground and a "
        "modified mortar."
    ],
}
ACCEPT: Example = {
    "revision": 1,
    "accepted_by": "Invented customer",
    "reference": "Order 4711 (invented)",
    "scope": {"rooms": ["Utility room"]},
}
DECLINE: Example = {"reason": "The customer has the floor carpeted."}
WITHDRAW: Example = {"reason": "The tile is no longer made."}
VARIANTS: Example = {
    **JOB,
    "price_date": "2026-03-02",
    "variants": [
        {"name": "As asked"},
        {"name": "Large tile", "changes": {"tile": {"length": 600, "width": 300}}},
        {"name": "Utility room straight", "rooms": [1], "changes": {"pattern": {"kind": "stack_bond"}}},
        {"name": "Without membrane", "rooms": [1], "changes": {"membrane": None}},
        {"name": "A discount", "terms": {"discount_percent": "5"}},
    ],
}
SUPPLIER: Example = {
    "name": "Mossbank Tile Supply (invented)",
    "currency": "USD",
    "delivery_charge": "45.00",
    "free_delivery_over": "800.00",
    "lead_time_days": 3,
}
PRODUCT: Example = {
    "role": "tile",
    "name": "Porcelain tile 300 x 300 x 9, fog",
    "unit": "piece",
    "attributes": {"length_mm": 300, "width_mm": 300, "thickness_mm": 9, "material": "porcelain"},
}
CUSTOMER: Example = {
    "name": "Invented customer, 4 Example Row",
    "email": "customer@example.com",
    "address": {"lines": ["4 Example Row"], "city": "Sampleton", "country": "US"},
}
SOME_ID = "018f6f2e-3c4d-7a1b-9c2d-3e4f5a6b7c8d"
PRICE_LIST: Example = {
    "supplier_id": SOME_ID,
    "name": "Spring prices",
    "kind": "regular",
    "valid_from": "2026-03-01",
    "valid_until": "2026-08-31",
}
PRICE_ITEMS: Example = {
    "items": [
        {"product_id": SOME_ID, "pack_size": "11", "price": "31.90"},
        {"product_id": SOME_ID, "pack_size": "11", "min_packs": 20, "price": "29.40"},
    ]
}
ACTIVATION: Example = {"at": "2026-03-01T06:00:00+00:00"}
AGREEMENT: Example = {
    "supplier_id": SOME_ID,
    "name": "Letter of January",
    "role": "grout",
    "percent": "5",
    "valid_from": "2026-01-01",
    "valid_until": "2026-12-31",
}
AGREEMENT_END: Example = {"valid_until": "2026-12-31"}
PRICE_LIMIT: Example = {"jump_percent": "40"}
LABOUR_TABLE: Example = {
    "name": "Two-person crew",
    "valid_from": "2026-01-01",
    "crew": 2,
    "productive_hours_per_day": "6.5",
    "minimum_hours": "4",
    "hourly_cost": "38.00",
    "currency": "USD",
    "rates": [{"activity": "lay_membrane", "driver": "area", "unit": "m2", "hours": "0.12"}],
}
CALIBRATION: Example = {
    "jobs": [
        {"job": "Sample Street 4", "quantities": {"lay_membrane": 18.4, "grout": 122.0}, "hours": 6.75},
        {"job": "Sample Street 9", "quantities": {"lay_membrane": 31.0, "grout": 180.5}, "hours": 11.5},
        {"job": "Sample Lane 2", "quantities": {"lay_membrane": 9.2, "grout": 70.0}, "hours": 3.75},
        {"job": "Sample Lane 3", "quantities": {"lay_membrane": 24.0, "grout": 99.0}, "hours": 7.0},
        {
            "job": "Sample Square 1",
            "quantities": {"lay_membrane": 40.5, "grout": 260.0},
            "hours_by_activity": {"lay_membrane": 7.5, "grout": 6.75},
        },
    ]
}
CALIBRATION_ACCEPTANCE: Example = {"valid_from": "2030-01-01", "keep": ["grout"]}
TERMS: Example = {
    "name": "Standard terms",
    "is_default": True,
    "contingency_percent": "3",
    "uplifts": {
        "default": {"method": "markup", "percent": "15"},
        "labour": {"method": "margin", "percent": "35"},
    },
    "taxes": [
        {"name": "Sales tax on materials", "percent": "6.25", "base": "materials", "reverse_charge": False}
    ],
    "deposit_percent": "30",
    "stages": [{"name": "On start", "percent": "40"}, {"name": "On completion", "percent": "30"}],
    "retention_percent": "5",
    "valid_days": 30,
    "allowances": [{"role": "tile", "unit": "m2", "price": "42.00"}],
    "rounding": {"method": "half_up", "minor": 2},
}
EXCHANGE_RATE: Example = {
    "from_currency": "EUR",
    "to_currency": "USD",
    "rate": "1.0825",
    "valid_from": "2026-03-02",
    "note": "invented",
}
TAXES: Example = {
    "region": "Sampleland",
    "valid_from": "2026-01-01",
    "rules": [
        {"name": "Materials", "percent": "20", "base": "materials", "reverse_charge": True},
        {"name": "Labour, reduced", "percent": "5.5", "base": "labour", "reverse_charge": True},
    ],
    "note": "invented rates of an invented region",
}
WEBHOOK: Example = {
    "url": "https://hooks.example.com/floors",
    "events": ["quote.issued", "quote.accepted", "quote.expired"],
    "description": "The bookkeeping program (invented)",
}
ROTATION: Example = {"overlap_hours": 48}
REPRICING: Example = {
    "select": {"states": ["draft", "issued"], "created_from": "2026-01-01"},
    "mode": "preview",
    "choice": "keep",
    "limits": {"percent": "2", "amount": "50.00"},
    "margin_floor_percent": "8",
}
BALLPARK: Example = {
    "area_m2": 6.5,
    "room_kind": "bathroom",
    "exposure": "wet",
    "tile_size": "large",
    "existing_covering": "tile",
}
KEY: Example = {"name": "Office program", "scopes": ["quotes", "prices"]}
KEY_ROTATION: Example = {"overlap_hours": 24}
ORGANISATION: Example = {
    "name": "Invented Floors",
    "time_zone": "America/Chicago",
    "number_prefix": "Q",
    "automatic_preview": True,
    "letterhead": {
        "address": {"lines": ["12 Sample Yard"], "postcode": "00000", "city": "Sampleton", "country": "US"},
        "contact_name": "Robin Example",
        "phone": "555 0142",
        "email": "office@example.com",
        "tax_number": "00-0000000",
        "bank_details": ["Example Bank", "Account 0000 0000"],
        "payment_terms": "Invoices are due within 14 days.",
        "locale": "en",
        "paper": "letter",
        "detail": "by_room",
        "terms_text": "Work is done on working days between 8 and 17 hours.",
    },
}
