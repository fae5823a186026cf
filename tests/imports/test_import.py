"""A file into a draft: what is read, matched, left out, compared and told."""

from __future__ import annotations

import io
import random
from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from service.quoting.errors import Conflict
from service.quoting.imports import source
from service.quoting.imports.errors import FileRefused
from service.quoting.imports.report import Report
from service.quoting.imports.run import import_prices
from service.quoting.imports.source import Options
from service.quoting.price_lists import Consent, activate
from service.store import price_lists, rows
from service.store.models import PriceList, ProductRow, Supplier
from service.store.session import OfficeSession
from tests.factories import PriceListFactory, ProductFactory, SupplierFactory
from tests.imports.samples import GERMAN, PLAIN, workbook

HEAD = "Code,Description,Pack size,From packs,Net price\n"


@pytest.fixture
def supplier(session: OfficeSession) -> Supplier:
    ProductFactory(session=session, code="GR-1", name="Grout ash")
    ProductFactory(session=session, code="GR-2", name="Grout clay")
    return SupplierFactory(session=session)


@pytest.fixture
def draft(session: OfficeSession, supplier: Supplier) -> PriceList:
    return PriceListFactory(session=session, supplier_id=supplier.id)


def run(session: OfficeSession, price_list: PriceList, content: str | bytes, **said: Any) -> Report:
    raw = content.encode() if isinstance(content, str) else content
    return import_prices(session, price_list.id, io.BytesIO(raw), Options(**said))


def held(session: OfficeSession, price_list: PriceList) -> list[tuple[Decimal, int, Decimal]]:
    items = price_lists.items_of(session, price_list.id)
    return sorted((item.pack_size, item.min_packs, item.price) for item in items)


TEN_AND_TWENTY_FIVE = [(10, 1, Decimal("24.5")), (10, 5, 22), (25, 1, 51)]


def test_a_plain_file_becomes_the_drafts_prices(session: OfficeSession, draft: PriceList) -> None:
    report = run(session, draft, PLAIN)
    assert held(session, draft) == TEN_AND_TWENTY_FIVE
    assert (report.rows, report.counts["accepted"], report.counts["new"]) == (3, 3, 3)
    fields = ["code", "name", "pack_size", "min_packs", "price"]
    assert [(c.field, c.guessed) for c in report.columns] == [(name, True) for name in fields]
    assert (report.format.kind, report.format.delimiter, report.format.decimal) == ("csv", ",", ".")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_german_file_in_several_encodings(
    session: OfficeSession, supplier: Supplier, draft: PriceList, encoding: str
) -> None:
    supplier.currency = "EUR"
    said = {"encoding": "cp1252"} if encoding == "cp1252" else {}
    report = run(session, draft, GERMAN.encode(encoding), **said)
    assert [price for _, _, price in held(session, draft)] == [Decimal("24.5"), 22, 1051]
    assert (report.format.delimiter, report.format.decimal, report.format.header_row) == (";", ",", 2)


def test_a_workbook_is_read_as_its_cells_stand(session: OfficeSession, draft: PriceList) -> None:
    table: list[list[Any]] = [line.split(",") for line in PLAIN.splitlines()]
    numbers = [[*cells[:2], int(cells[2]), int(cells[3]), float(cells[4])] for cells in table[1:]]
    formula = ["GR-2", "Grout clay", 5, 1, "=2*3"]
    report = run(session, draft, workbook([table[0], *numbers, formula]))
    assert held(session, draft) == TEN_AND_TWENTY_FIVE
    assert report.format.kind == "xlsx"
    assert [(r.row, r.column, r.value) for r in report.rejected] == [(5, "Net price", "=2*3")]
    assert "formula" in report.rejected[0].reason


BAD = [
    ("GR-1,Grout ash,10,1,NaN", "Net price", "not a number"),
    ("GR-1,Grout ash,10,1,1e308", "Net price", "not a number"),
    ("GR-1,Grout ash,10,1,-2.00", "Net price", "negative"),
    ("GR-1,Grout ash,0,1,2.00", "Pack size", "more than 0"),
    ("GR-1,Grout ash,,1,2.00", "Pack size", "no pack size"),
    ("GR-1,Grout ash,10,1.5,2.00", "From packs", "whole number"),
    ("GR-1,Grout ash,10,1,", "Net price", "no price"),
    ("GR-2,Grout clay,25,1,52.00", "From packs", "as row 2"),
    ("GR-1,Grout ash,10,5,2.00", "From packs", "from one on"),
    ("GR-2,Grout clay,25,4,51.01", "Net price", "fewer are bought"),
    ("GR-9,Grout unknown,10,1,2.00", "Code", "no such product"),
    (",,10,1,2.00", "Code", "no product"),
    ("=1+1,Grout ash,10,1,2.00", "Code", "formula"),
    ("GR-1,Grout ash,10,1,=A1", "Net price", "formula"),
    ("GR-1,-2+3,10,1,2.00", "Description", "formula"),
    ("@GR-1,Grout ash,10,1,2.00", "Code", "formula"),
    ("+1,Grout ash,10,1,2.00", "Code", "formula"),
    ("\t=1,Grout ash,10,1,2.00", "Code", "formula"),
    ("GR-1,Grout ash,10,1,€2.00", "Net price", "another currency"),
    ("GR-1,Grout \x00 ash,10,1,2.00", "Description", "no text"),
]


@pytest.mark.parametrize(("line", "column", "reason"), BAD)
def test_a_row_that_cannot_stand_is_left_out_and_told(
    session: OfficeSession, draft: PriceList, line: str, column: str, reason: str
) -> None:
    report = run(session, draft, f"{HEAD}GR-2,Grout clay,25,1,51.00\n{line}\n")
    assert held(session, draft) == [(25, 1, 51)]
    assert [(r.row, r.column) for r in report.rejected] == [(3, column)]
    assert reason in report.rejected[0].reason
    assert (report.counts["accepted"], report.counts["rejected"]) == (1, 1)


def test_a_list_with_rejected_rows_goes_live_only_when_asked(
    session: OfficeSession, draft: PriceList
) -> None:
    content = f"{PLAIN}GR-9,Unknown,1,1,1.00\n"
    report = run(session, draft, content, activate=True)
    assert (report.activated, report.missing) == (False, ("accept_rejected",))
    with pytest.raises(Conflict, match="1 rows"):
        activate(session, draft.id, None)
    report = run(session, draft, content, activate=True, accept_rejected=True)
    assert (report.activated, report.unchanged, draft.state) == (True, True, "active")


def test_the_same_file_again_changes_nothing_even_when_live(session: OfficeSession, draft: PriceList) -> None:
    run(session, draft, PLAIN, activate=True)
    version = draft.version
    report = run(session, draft, PLAIN, activate=True)
    assert (report.unchanged, report.activated, draft.version) == (True, True, version)
    with pytest.raises(Conflict, match="only a draft"):
        run(session, draft, PLAIN.replace("51.00", "52.00"))


def test_changes_are_compared_with_what_held(
    session: OfficeSession, supplier: Supplier, draft: PriceList
) -> None:
    run(session, draft, PLAIN, activate=True)
    later = PriceListFactory(session=session, supplier_id=supplier.id, valid_from="2026-02-01")
    content = f"{HEAD}GR-1,Grout ash,10,1,24.50\nGR-1,Grout ash,10,5,11.00\nGR-1,Grout ash,20,1,40.00\n"
    report = run(session, later, content, activate=True)
    counts = {"same": 1, "changed": 1, "new": 1, "gone": 1, "jumps": 1}
    assert {name: report.counts[name] for name in counts} == counts
    changed = report.changed[0]
    assert (changed["old"], changed["new"], changed["percent"]) == (22, 11, -50)
    assert report.gone[0]["code"] == "GR-2"
    assert (report.activated, report.missing) == (False, ("confirm_jumps",)), "50 percent is over 40"
    with pytest.raises(Conflict, match="1 prices move by more than 40 percent"):
        activate(session, later.id, None)
    assert run(session, later, content, activate=True, confirm_jumps=True).activated


def test_a_dry_run_tells_the_same_and_leaves_nothing(session: OfficeSession, draft: PriceList) -> None:
    content = f"{PLAIN}GR-9,Unknown,1,1,1.00\n"
    dry = run(session, draft, content, dry_run=True)
    assert (held(session, draft), draft.version, draft.rejected_rows) == ([], 1, 0)
    wet = run(session, draft, content)
    assert (dry.counts, dry.new, dry.rejected) == (wet.counts, wet.new, wet.rejected)


def test_products_are_made_only_where_asked(session: OfficeSession, draft: PriceList) -> None:
    head = "Code,Name,Role,Unit,Pack size,Price\n"
    content = f"{head}PR-1,Primer fen,primer,l,5,30.00\nTI-1,Tile,tile,piece,5,30.00\n"
    assert run(session, draft, content).counts["rejected"] == 2
    report = run(session, draft, content, create_products=True)
    assert [(r.row, r.value) for r in report.rejected] == [(3, "TI-1")], "a tile needs its measures"
    made = rows.page(session, ProductRow, 1, None, ProductRow.code == "PR-1")[0]
    assert (made.name, made.role, made.unit) == ("Primer fen", "primer", "l")


def test_list_price_per_m2_less_a_groups_percent_is_exact(session: OfficeSession, supplier: Supplier) -> None:
    """45.90 per m2 less 32.5 percent, 11 tiles of 300 x 300 in a box: 45.90 x 0.99 x 0.675 = 30.672675."""
    measures = {"length_mm": 300, "width_mm": 300, "thickness_mm": 9}
    ProductFactory(session=session, code="TI-1", role="tile", unit="piece", attributes=measures)
    draft = PriceListFactory(session=session, supplier_id=supplier.id, discounts={"A": "32.5"})
    content = "Artikelnummer;VE;Preis/m²;Rabattgruppe\nTI-1;11;45,90;A\nTI-1;22;45,90;B\n"
    report = run(session, draft, content)
    [item] = price_lists.items_of(session, draft.id)
    assert (item.price, item.list_price, item.priced_units) == (
        Decimal("30.672675"),
        Decimal("45.90"),
        Decimal("0.99"),
    )
    assert (item.percent, item.percent_from, item.per) == (Decimal("32.5"), "group", "m2")
    assert [(r.row, r.column) for r in report.rejected] == [(3, "Rabattgruppe")]


def test_columns_are_taken_as_said(session: OfficeSession, draft: PriceList) -> None:
    content = "Ours|Theirs|Pack|Cost\nGR-2|X|25|51.00\n"
    with pytest.raises(FileRefused, match="'Ours', 'Theirs'") as refused:
        run(session, draft, content)
    assert refused.value.option == "map"
    report = run(session, draft, content, columns={"Ours": "code", "cost": "price"})
    assert held(session, draft) == [(25, 1, 51)]
    assert [c.field for c in report.columns] == ["code", None, "pack_size", "price"]


@pytest.mark.parametrize(
    ("content", "option"),
    [
        (b"Code;Preis\nGR-1;1\n".replace(b"1\n", b"\xfc\n"), "encoding"),
        (b'Code,Pack size,Price\nGR-1,10,"1,234"\n', "decimal"),
        (b"", "map"),
        (b'Code,Pack size,Price,Note\nGR-1,10,1.00,"5 inch\nGR-2,25,2.00,\n', "delimiter"),
        (b'Code,Pack size,Price,Note\nGR-1,10,1.00,"5 inch\nGR-2,25,2.00,"5 inch\n', "delimiter"),
        (b'Code,Pack size,Price,Note\nGR-1,10,1.00,"5 inch\nGR-2,25,2.00,"\n', None),
        (b"PK\x03\x04 no workbook", None),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_whole(
    session: OfficeSession, draft: PriceList, content: bytes, option: str | None
) -> None:
    with pytest.raises(FileRefused) as refused:
        run(session, draft, content)
    assert refused.value.option == option
    assert held(session, draft) == []


def test_a_quote_that_lacks_is_told_with_its_row(session: OfficeSession, draft: PriceList) -> None:
    content = 'Code,Pack size,Price,Note\nGR-2,25,2.00,\nGR-1,10,1.00,"5 inch\nGR-1,20,1.00,\n'
    with pytest.raises(FileRefused, match="Row 3: a quoted cell has no end"):
        run(session, draft, content, activate=True)
    with pytest.raises(FileRefused, match=r"Row 3: .*next line"):
        run(session, draft, content + '"\n', activate=True)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_last_line_without_its_end(session: OfficeSession, draft: PriceList, encoding: str) -> None:
    content = "Code,Pack size,Price,Weight\nGR-2,25,2.00,\nGR-1,10,1.00,"
    assert run(session, draft, content.encode(encoding)).counts["accepted"] == 2
    report = run(session, draft, content[:-1].encode(encoding), activate=True)
    assert [(r.row, r.value) for r in report.rejected] == [(3, "1.00")]
    assert (report.activated, "3 of 4 columns" in report.rejected[0].reason) == (False, True)
    assert run(session, draft, f"{content[:-1]}\n".encode(encoding)).counts["accepted"] == 2, "only short"


def test_an_unquoted_decimal_comma_is_no_further_column(session: OfficeSession, draft: PriceList) -> None:
    report = run(session, draft, "Code,Pack size,Price\nGR-1,10,24.50\nGR-2,25,24,50\n")
    assert [(r.row, r.value) for r in report.rejected] == [(3, "50")]


@pytest.mark.parametrize(
    "name", ["idna", "unicode_escape", "utf-7", "punycode", "rot13", "base64", "x" * 99, "a\0"]
)
def test_what_is_no_files_encoding_is_refused(session: OfficeSession, draft: PriceList, name: str) -> None:
    with pytest.raises(FileRefused, match="encoding") as refused:
        run(session, draft, PLAIN, encoding=name)
    assert refused.value.option == "encoding"


SAID = [
    ("kg", "grout", "USD", None),
    ("Kilo", "", "$", None),
    ("bag", "grout", "usd", None),
    ("lb", "grout", "USD", "no unit that is known"),
    ("m²", "grout", "USD", "counted in kg"),
    ("kg", "primer", "USD", "another role, grout"),
    ("kg", "glue", "USD", "no role that is known"),
    ("kg", "grout", "EUR", "not the supplier's currency, USD"),
]


@pytest.mark.parametrize(("unit", "role", "currency", "reason"), SAID)
def test_what_a_row_says_beside_its_price_must_agree(
    session: OfficeSession, draft: PriceList, unit: str, role: str, currency: str, reason: str | None
) -> None:
    content = f"Code,Pack size,Unit,Role,Currency,Price\nGR-1,50,{unit},{role},{currency},10\n"
    report = run(session, draft, content)
    assert [r.row for r in report.rejected] == ([] if reason is None else [2])
    assert reason is None or reason in report.rejected[0].reason
    assert len(held(session, draft)) == (reason is None)


def test_a_price_per_unit_wants_a_unit(session: OfficeSession, draft: PriceList) -> None:
    report = run(session, draft, "Code,Pack size,Unit,Unit price\nGR-1,50,bag,10\nGR-1,20,kg,10\n")
    assert [(r.row, r.column) for r in report.rejected] == [(2, "Unit")]
    assert held(session, draft) == [(20, 1, 200)]


@pytest.mark.parametrize("head", ["Price €", "Price (€)", "Price GBP"])
def test_a_heading_in_another_currency_is_refused(
    session: OfficeSession, draft: PriceList, head: str
) -> None:
    with pytest.raises(FileRefused, match="another currency"):
        run(session, draft, f"Code,Pack size,{head}\nGR-1,10,1.00\n", columns={head: "price"})


def test_of_two_prices_one_must_be_said(session: OfficeSession, draft: PriceList) -> None:
    content = "Code,Pack size,Price,Net price\nGR-1,10,9.00,7.00\n"
    with pytest.raises(FileRefused, match=r"'Price', 'Net price'") as refused:
        run(session, draft, content)
    assert refused.value.option == "map"
    run(session, draft, content, columns={"Net price": "price"})
    assert held(session, draft) == [(10, 1, 7)]
    with pytest.raises(FileRefused, match="'Price', 'Price'"):
        run(session, draft, content.replace("Net price", "Price"), columns={"Price": "price"})


def test_blanks_that_do_not_break_are_blanks(session: OfficeSession, draft: PriceList) -> None:
    run(session, draft, "Name,Pack size,Price\nGrout\u00a0ash\u00a0,10,1\u202f024.50\n")
    assert held(session, draft) == [(10, 1, Decimal("1024.5"))]


@pytest.mark.parametrize(
    ("line", "percent", "jumps"),
    [
        ("20,1,49.00", 0, 0),  # 2.45 a kg as in the pack of 10
        ("20,1,490.00", 900, 1),  # a decimal point too far right
        ("1,1,2.45", -6, 0),  # beside 2.60 a kg in the pack of 2
        ("1,1,5.20", 100, 1),
        ("10,2,12.00", Decimal("-51.02"), 1),  # a break, beside the price from one on
    ],
)
def test_a_new_pack_is_held_against_the_nearest(
    session: OfficeSession, supplier: Supplier, draft: PriceList, line: str, percent: int, jumps: int
) -> None:
    """By hand, per kg: 24.50 / 10 = 2.45 and 5.20 / 2 = 2.60."""
    old = f"{HEAD}GR-1,,10,1,24.50\nGR-1,,2,1,5.20\n"
    run(session, draft, old, activate=True)
    later = PriceListFactory(session=session, supplier_id=supplier.id, valid_from="2026-02-01")
    report = run(session, later, f"{old}GR-1,,{line}\n", activate=True)
    assert (report.counts["new"], report.counts["jumps"]) == (1, jumps)
    assert abs(report.new[0]["percent"] - percent) < 1
    assert report.missing == (("confirm_jumps",) if jumps else ())


def later(session: OfficeSession, supplier: Supplier, **said: Any) -> PriceList:
    return PriceListFactory(session=session, supplier_id=supplier.id, **said)


@pytest.mark.parametrize(
    ("until", "begins"), [("2026-10-31", "2026-11-01"), (None, "2026-11-01"), ("2026-10-01", "2026-11-01")]
)
def test_a_price_is_held_against_the_last_there_was(
    session: OfficeSession, supplier: Supplier, until: str | None, begins: str
) -> None:
    """The list before has ended, the day before or long ago, or made way for one without the product."""
    run(session, later(session, supplier, valid_until=until), f"{HEAD}GR-1,,10,1,10.00\n", activate=True)
    if until is None:
        run(session, later(session, supplier, valid_from="2026-03-01"), f"{HEAD}GR-2,,5,1,9\n", activate=True)
    new = later(session, supplier, valid_from=begins)
    content = f"{HEAD}GR-1,,10,1,1000.00\nGR-1,,20,1,20.00\n"
    report = run(session, new, content, activate=True)
    assert (report.counts["changed"], report.counts["jumps"], report.missing) == (1, 1, ("confirm_jumps",))
    assert (report.changed[0]["old"], report.changed[0]["percent"]) == (10, 9900)
    assert (report.counts["new"], report.new[0]["percent"]) == (1, 0), "beside the pack of 10 at 10.00"
    with pytest.raises(Conflict, match="1 prices move"):
        activate(session, new.id, None)


def test_a_list_that_overrides_at_once_is_held_against_what_holds(
    session: OfficeSession, supplier: Supplier, draft: PriceList
) -> None:
    run(session, later(session, supplier, valid_from="2026-02-01"), f"{HEAD}GR-1,,10,1,10\n", activate=True)
    dear = f"{HEAD}GR-1,,10,1,1000.00\n"
    urgent = later(session, supplier, valid_from="2026-01-02", priority=5)
    report = run(session, urgent, dear, activate=True)
    assert (report.changed[0]["old"], report.missing) == (10, ("confirm_jumps",))
    assert run(session, draft, dear).counts["new"] == 1, "what began later counts before it"


def test_a_list_that_is_to_hold_later_is_held_against_that_day(
    session: OfficeSession, supplier: Supplier, draft: PriceList
) -> None:
    run(session, later(session, supplier, valid_from="2026-02-01"), f"{HEAD}GR-1,,10,1,10\n", activate=True)
    dear = f"{HEAD}GR-1,,10,1,1000.00\n"
    run(session, draft, dear)
    with pytest.raises(Conflict, match="1 prices move"):
        activate(session, draft.id, None, Consent(at=datetime(2100, 1, 1, tzinfo=UTC)))


def test_new_packs_are_compared_without_rounding(session: OfficeSession, supplier: Supplier) -> None:
    """Against fractions, with new prices at the very limit, just over it and anywhere."""
    made = random.Random(5)
    for day in range(1, 5):
        sizes = made.sample(range(1, 60), 12)
        old = {size: Fraction(made.randint(1, 9_999), 100) for size in sizes[:2]}
        new = {}
        for size in sizes[2:]:
            near = min(old, key=lambda known: (Fraction(max(known, size), min(known, size)), known))
            exact = old[near] * size / near * Fraction(made.choice([60, 100, 140]), 100)
            price = made.choice([exact, exact + Fraction(1, 10_000), exact - Fraction(1, 10_000)])
            new[size] = (Fraction(round(price * 10_000), 10_000), old[near] / near * size)
        before = later(session, supplier, valid_from=f"2026-02-{2 * day:02}")
        run(session, before, table({**old}), activate=True, confirm_jumps=True)
        after = later(session, supplier, valid_from=f"2026-02-{2 * day + 1:02}")
        report = run(session, after, table({size: price for size, (price, _) in new.items()}))
        jumps = sum(abs(price - was) * 100 > was * 40 for price, was in new.values())
        assert report.counts["jumps"] == jumps


def test_the_limit_itself_is_no_jump(session: OfficeSession, supplier: Supplier, draft: PriceList) -> None:
    """14 for 3 is 140 percent of 10 for 3, whichever pack of the two is divided by."""
    run(session, draft, f"{HEAD}GR-1,,3,1,10.00\n", activate=True)
    new = later(session, supplier, valid_from="2026-02-01")
    assert run(session, new, f"{HEAD}GR-1,,6,1,28.00\n").counts["jumps"] == 0
    assert run(session, new, f"{HEAD}GR-1,,6,1,28.0001\n").counts["jumps"] == 1


@pytest.mark.parametrize(
    ("first", "then", "taken"),
    [
        ("12", "1,250", False),  # no row looked at had a mark
        ("12", "1.250", False),
        ("12.50", "1,250", False),  # a point told, what the comma is nobody
        ("12,50", "1.250", False),
        ("12.50", "12,50", False),
        ("1,012.50", "1,250", True),
        ("12.50", "1.250", True),
        ("12.50", "1,250.00", True),
    ],
)
def test_a_mark_beyond_the_rows_looked_at_is_never_guessed(
    session: OfficeSession,
    draft: PriceList,
    monkeypatch: pytest.MonkeyPatch,
    first: str,
    then: str,
    taken: bool,
) -> None:
    monkeypatch.setattr(source, "LOOKED_AT", 2)
    content = f"Code\tPack size\tPrice\nGR-1\t10\t{first}\nGR-2\t10\t{then}\n"
    report = run(session, draft, content)
    assert [(r.row, r.column, r.value) for r in report.rejected] == ([] if taken else [(3, "Price", then)])


@pytest.mark.parametrize("name", ["latin-9", "latin9", "iso-8859-15", "ISO8859_15"])
def test_an_encoding_by_any_of_its_names(session: OfficeSession, draft: PriceList, name: str) -> None:
    report = run(session, draft, f"{HEAD}GR-1,,10,1,€ 24.50\n".encode("iso8859-15"), encoding=name)
    assert report.format.encoding == "iso8859-15"


def test_what_does_not_print_is_shown(session: OfficeSession, draft: PriceList) -> None:
    report = run(session, draft, f"{HEAD}GR-1\x07\u202e,Grout,10,1,24.50\n")
    assert [row.value for row in report.rejected] == ["GR-1\\x07\\u202e"]


def table(prices: Mapping[int, Fraction]) -> str:
    lines = (f"GR-1,,{size},1,{float(price):.4f}\n" for size, price in prices.items())
    return HEAD + "".join(lines)


def test_a_backslash_is_a_letter_like_others(session: OfficeSession, draft: PriceList) -> None:
    ProductFactory(session=session, code="\\N", name="Grout \\t 2\\")
    run(session, draft, "Code,Pack size,Price\n\\N,10,5\n")
    assert held(session, draft) == [(10, 1, 5)]
    run(session, draft, "Name,Pack size,Price\nGrout \\t 2\\,10,6\n")
    assert held(session, draft) == [(10, 1, 6)]
