"""Many quotes out of few real ones, by set-based SQL, past all triggers."""

from __future__ import annotations

import psycopg

from service.demo.seed import ORGANISATION
from service.store.engine import libpq_url

COPY_EACH = """
SET session_replication_role = replica;
CREATE TEMPORARY TABLE copied AS
SELECT q.id AS of, md5(q.id::text || n)::uuid AS id, q.number || '-' || n AS number
FROM quotes AS q, generate_series(1, %(times)s) AS n WHERE q.org_id = %(org)s;
ANALYZE copied;
INSERT INTO quotes (
    org_id, id, number, state, current_revision, offered_revision, valid_until, customer_id, created_at
)
SELECT q.org_id, c.id, c.number, q.state, q.current_revision, q.offered_revision, q.valid_until,
    q.customer_id, q.created_at
FROM copied AS c JOIN quotes AS q ON q.org_id = %(org)s AND q.id = c.of;
INSERT INTO quote_takeoffs (org_id, id, quote_id, request, takeoff, basis, created_at)
SELECT t.org_id, c.id, c.id, t.request, t.takeoff, t.basis, t.created_at
FROM copied AS c JOIN quote_takeoffs AS t ON t.org_id = %(org)s AND t.quote_id = c.of;
INSERT INTO quote_revisions SELECT r.* FROM copied AS c, LATERAL (
    SELECT (jsonb_populate_record(o, jsonb_build_object('quote_id', c.id, 'takeoff_id', c.id))).*
    FROM quote_revisions AS o WHERE o.org_id = %(org)s AND o.quote_id = c.of
) AS r;
INSERT INTO quote_lines SELECT l.* FROM copied AS c, LATERAL (
    SELECT (jsonb_populate_record(o, jsonb_build_object('quote_id', c.id))).*
    FROM quote_lines AS o WHERE o.org_id = %(org)s AND o.quote_id = c.of
) AS l;
INSERT INTO quote_events (org_id, id, quote_id, revision, position, kind, at, valid_until, created_at)
SELECT e.org_id, md5(c.id::text || e.position)::uuid, c.id, e.revision, e.position, e.kind,
    e.at, e.valid_until, e.created_at
FROM copied AS c JOIN quote_events AS e ON e.org_id = %(org)s AND e.quote_id = c.of;
SET session_replication_role = origin;
DROP TABLE copied
"""


def multiply(url: str, times: int) -> int:
    """Copy each quote of the invented office so many times; how many there are then."""
    told = {"org": ORGANISATION, "times": times}
    with psycopg.connect(libpq_url(url), cursor_factory=psycopg.ClientCursor) as connection:
        connection.execute(COPY_EACH, told)
        row = connection.execute("SELECT count(*) FROM quotes").fetchone()
        connection.commit()
        connection.autocommit = True
        connection.execute(
            "VACUUM ANALYZE quotes, quote_revisions, quote_lines, quote_events, quote_takeoffs"
        )
    assert row is not None
    return int(row[0])
