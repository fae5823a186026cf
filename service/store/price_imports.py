"""A file's rows by COPY into a table of the transaction's own, then matched, checked, compared in sets.

Row-level security refuses COPY into tables that it guards, hence the temporary one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from itertools import islice
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import text
from sqlalchemy.orm import Session

from service.store.ids import new_id
from service.store.session import org_of

NULL = r"\N"
BLOCK = 1000


class Staged(NamedTuple):
    """A row of a file, its cells read: a net `price` of a pack, or a `list_price` per pack, unit or m2."""

    row_number: int
    code: str | None
    name: str | None
    pack_size: Decimal | None
    min_packs: int
    price: Decimal | None
    list_price: Decimal | None
    per: str
    m2_per_pack: Decimal | None
    percent: Decimal
    percent_from: str | None
    discount_group: str | None
    role: str | None
    unit: str | None
    weight_kg: Decimal | None
    supplier_code: str | None = None
    split: bool = False


STAGE = """
DROP TABLE IF EXISTS pg_temp.price_import, pg_temp.price_import_known, pg_temp.price_import_checked;
CREATE TEMPORARY TABLE price_import (
    row_number integer, code text, name text, pack_size numeric, min_packs integer, price numeric,
    list_price numeric, per text, m2_per_pack numeric, percent numeric, percent_from text,
    discount_group text, role text, unit text, weight_kg numeric, supplier_code text,
    split boolean, item_id uuid
) ON COMMIT DROP
"""

KNOWN = text("""
CREATE TEMPORARY TABLE price_import_known ON COMMIT DROP AS
SELECT DISTINCT ON (i.supplier_code) i.supplier_code, i.product_id
FROM price_lists l JOIN price_items i ON i.org_id = :org_id AND i.price_list_id = l.id
WHERE l.org_id = :org_id AND l.supplier_id = :supplier_id AND l.state = 'active'
    AND i.supplier_code IS NOT NULL
    AND i.product_id NOT IN (SELECT id FROM products WHERE org_id = :org_id AND archived_at IS NOT NULL)
ORDER BY i.supplier_code, l.valid_from DESC, l.activated_at DESC
""")
"""What each of the supplier's own codes stands for in the latest of his lists that has it. A table, so that
its size is known to what follows."""

UNKNOWN = text("""
SELECT DISTINCT ON (coalesce(t.code, t.name)) t.row_number, t.code, t.name, t.role, t.unit, t.weight_kg
FROM price_import t
WHERE NOT EXISTS (
    SELECT FROM products p WHERE p.org_id = :org_id AND p.archived_at IS NULL AND p.code = t.code
) AND NOT EXISTS (
    SELECT FROM products p WHERE p.org_id = :org_id AND p.archived_at IS NULL
    AND p.name = CASE WHEN t.code IS NULL THEN t.name END
) AND NOT EXISTS (
    SELECT FROM price_import_known k WHERE k.supplier_code = coalesce(t.supplier_code, t.code)
)
    AND coalesce(t.code, t.name) IS NOT NULL
ORDER BY coalesce(t.code, t.name), t.row_number
""")

ADD_PRODUCTS = text("""
INSERT INTO products (org_id, id, role, name, code, unit, weight_kg)
SELECT :org_id, made.* FROM unnest(
    CAST(:id AS uuid[]), CAST(:role AS text[]), CAST(:name AS text[]), CAST(:code AS text[]),
    CAST(:unit AS text[]), CAST(:weight_kg AS numeric[])
) AS made
ON CONFLICT (org_id, name) DO NOTHING
""")

CHECK = text("""
CREATE TEMPORARY TABLE price_import_checked ON COMMIT DROP AS
WITH codes AS (
    SELECT code, (array_agg(id ORDER BY id))[1] AS id, count(*) AS products
    FROM products WHERE org_id = :org_id AND archived_at IS NULL AND code IS NOT NULL GROUP BY code
), identified AS (
    SELECT t.*, codes.products, article.product_id AS article_of,
        coalesce(codes.id, named.id, CASE
            WHEN t.code IS NULL OR t.supplier_code IS NULL THEN article.product_id
        END) AS product_id,
        coalesce(t.supplier_code, CASE
            WHEN codes.id IS NULL AND article.product_id IS NOT NULL THEN t.code
        END) AS article
    FROM price_import t
    LEFT JOIN codes ON codes.code = t.code
    LEFT JOIN price_import_known article
        ON article.supplier_code = coalesce(t.supplier_code, CASE WHEN codes.id IS NULL THEN t.code END)
    LEFT JOIN products named ON named.org_id = :org_id AND named.archived_at IS NULL
        AND named.name = CASE WHEN t.code IS NULL THEN t.name END
), matched AS (
    SELECT i.row_number, i.item_id, i.code, i.name, i.min_packs, i.price, i.list_price, i.per, i.percent,
        i.percent_from, i.discount_group, i.m2_per_pack, i.product_id, i.products, i.article,
        i.article_of, i.split,
        coalesce(i.pack_size, p.pack_content) AS pack_size, p.unit, p.attributes,
        p.role AS known_role, i.role, i.unit AS said_unit
    FROM identified i
    LEFT JOIN products p ON p.org_id = :org_id AND p.id = i.product_id
), measured AS (
    SELECT *, CASE
        WHEN per = 'pack' THEN 1
        WHEN per = 'unit' OR m2_per_pack IS NULL AND unit = 'm2' THEN pack_size
        ELSE coalesce(m2_per_pack, CASE
            WHEN jsonb_typeof(attributes -> 'length_mm') = 'number'
                AND jsonb_typeof(attributes -> 'width_mm') = 'number'
            THEN round((attributes ->> 'length_mm')::numeric * (attributes ->> 'width_mm')::numeric
                * pack_size * 0.000001, 4)
        END)
    END AS priced_units
    FROM matched
), priced AS (
    SELECT *, trim_scale(coalesce(price, list_price * priced_units * (100 - percent) * 0.01)) AS net,
        first_value(row_number) OVER same AS first_row,
        min(min_packs) OVER (PARTITION BY product_id, pack_size) AS from_packs
    FROM measured
    WINDOW same AS (PARTITION BY product_id, pack_size, min_packs ORDER BY row_number)
), articles AS (
    SELECT DISTINCT ON (article) article, product_id, row_number
    FROM identified WHERE article IS NOT NULL AND product_id IS NOT NULL ORDER BY article, row_number
)
SELECT priced.row_number, item_id, code, name, priced.product_id, pack_size, min_packs, net AS price,
    list_price, per, CASE WHEN list_price IS NULL THEN 1 ELSE priced_units END AS priced_units, percent,
    percent_from, discount_group, first_row, role, said_unit, known_role, unit AS known_unit, split,
    priced.article AS supplier_code, article_of, articles.row_number AS article_row,
    CASE
        WHEN products > 1 THEN 'ambiguous'
        WHEN priced.product_id IS NULL THEN 'unknown'
        WHEN article_of <> priced.product_id THEN 'other_article'
        WHEN articles.product_id <> priced.product_id THEN 'article_twice'
        WHEN role <> known_role THEN 'other_role'
        WHEN said_unit <> unit THEN 'other_unit'
        WHEN pack_size IS NULL THEN 'no_pack_size'
        WHEN pack_size <= 0 THEN 'no_pack_size'
        WHEN first_row <> priced.row_number THEN 'duplicate'
        WHEN priced_units IS NULL OR priced_units <= 0 THEN 'no_area'
        WHEN net >= 1e10 THEN 'too_dear'
        WHEN from_packs > 1 THEN 'headless'
        WHEN net > min(net) OVER fewer THEN 'dearer_break'
    END AS fault
FROM priced LEFT JOIN articles USING (article)
WINDOW fewer AS (
    PARTITION BY priced.product_id, pack_size ORDER BY min_packs
    ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
)
""")

FAULTS = text("""
SELECT row_number, c.code, c.name, pack_size, min_packs, price, first_row, fault,
    c.role, said_unit AS unit, known_role, known_unit, supplier_code, article_row, p.name AS article_name
FROM price_import_checked c LEFT JOIN products p ON p.org_id = :org_id AND p.id = c.article_of
WHERE fault IS NOT NULL ORDER BY row_number LIMIT :most
""")
FAULT_COUNTS = text("SELECT count(*) FROM price_import_checked WHERE fault IS NOT NULL")

ITEM = (
    "product_id, pack_size, min_packs, price, list_price, per, priced_units, percent, percent_from,"
    " discount_group, supplier_code, split"
)
DIFFERS = text(f"""
WITH filed AS (SELECT {ITEM} FROM price_import_checked WHERE fault IS NULL),
kept AS (SELECT {ITEM} FROM price_items WHERE org_id = :org_id AND price_list_id = :list_id)
SELECT EXISTS ((TABLE filed EXCEPT TABLE kept) UNION ALL (TABLE kept EXCEPT TABLE filed))
""")  # noqa: S608 - columns of our own
EMPTY = text("DELETE FROM price_items WHERE org_id = :org_id AND price_list_id = :list_id")
APPLY = text(f"""
INSERT INTO price_items (org_id, id, price_list_id, {ITEM})
SELECT :org_id, item_id, :list_id, {ITEM} FROM price_import_checked WHERE fault IS NULL ORDER BY row_number
""")  # noqa: S608


def stage(session: Session, rows: Iterable[Staged]) -> None:
    """Take the rows in as they come, in blocks of COPY's own text."""
    driver = session.connection().connection.driver_connection
    columns = ", ".join((*Staged._fields, "item_id"))
    coming = iter(rows)
    with driver.cursor() as cursor:  # type: ignore[union-attr] # a psycopg connection
        cursor.execute(STAGE)
        with cursor.copy(f"COPY price_import ({columns}) FROM STDIN") as copy:
            while block := [_line(row) for row in islice(coming, BLOCK)]:
                copy.write("".join(block))
        cursor.execute("ANALYZE price_import")


def _line(row: Staged) -> str:
    return "\t".join([NULL if cell is None else _copied(cell) for cell in row]) + f"\t{new_id().hex}\n"


def _copied(cell: Any) -> str:
    """A cell as COPY reads it; texts hold no character that is not printable, which leaves the backslash."""
    return cell.replace("\\", "\\\\") if isinstance(cell, str) else str(cell)


def know_articles(session: Session, supplier_id: UUID) -> None:
    """Look up the supplier's own codes, which the rows are then matched by."""
    session.execute(KNOWN, {"org_id": org_of(session), "supplier_id": supplier_id})
    session.execute(text("ANALYZE price_import_known"))


def unknown_products(session: Session) -> Sequence[Mapping[str, Any]]:
    """The products that the rows name and the organisation lacks, each as its first row has it."""
    return session.execute(UNKNOWN, {"org_id": org_of(session)}).mappings().all()  # type: ignore[return-value]


def add_products(session: Session, products: Sequence[Mapping[str, Any]]) -> None:
    """Add products; one whose name is taken is passed over and stays unknown."""
    if products:
        made = [{"id": new_id(), **product} for product in products]
        columns = {name: [product[name] for product in made] for name in made[0]}
        session.execute(ADD_PRODUCTS, {"org_id": org_of(session), **columns})


def check(session: Session) -> None:
    """Match the rows to products, work out the price of a pack, and mark those that cannot stand."""
    session.execute(CHECK, {"org_id": org_of(session)})
    session.execute(text("ANALYZE price_import_checked"))


def faults(session: Session, most: int) -> tuple[int, Sequence[Mapping[str, Any]]]:
    """How many rows are marked, and the first of them."""
    count: int = session.execute(FAULT_COUNTS).scalar_one()
    return count, session.execute(FAULTS, {"org_id": org_of(session), "most": most}).mappings().all()  # type: ignore[return-value]


def differs(session: Session, list_id: UUID) -> bool:
    """Whether the rows that can stand are other prices than the list has."""
    return bool(session.execute(DIFFERS, {"org_id": org_of(session), "list_id": list_id}).scalar_one())


def apply(session: Session, list_id: UUID) -> int:
    """Put the rows that can stand in place of the list's prices; IntegrityError where it is no draft."""
    of_list = {"org_id": org_of(session), "list_id": list_id}
    session.execute(EMPTY, of_list)
    applied: Any = session.execute(APPLY, of_list)
    count: int = applied.rowcount
    return count
