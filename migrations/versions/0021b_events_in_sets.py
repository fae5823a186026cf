"""Drafts and what they take the place of are checked once a statement, and all events projected so.

Those two are written for many quotes at once; all else happens to one, and is checked row by row as before.
"""

from __future__ import annotations

from alembic import op

from service.store.life import as_sql

revision = "0021b"
down_revision = "0021"
branch_labels = None
depends_on = None

MANY = "('draft', 'superseded')"

# row by row: the lock, which puts the events of a quote in one order whoever writes them, and their count
NEXT = f"""
CREATE FUNCTION quote_event_is_next() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM quotes WHERE org_id = NEW.org_id AND id = NEW.quote_id FOR UPDATE;
    SELECT coalesce(max(position), 0) + 1 INTO NEW.position FROM quote_events
        WHERE org_id = NEW.org_id AND quote_id = NEW.quote_id;
    RETURN NEW;
END $$;
CREATE TRIGGER next BEFORE INSERT ON quote_events FOR EACH ROW WHEN (NEW.kind IN {MANY})
    EXECUTE FUNCTION quote_event_is_next();
CREATE TRIGGER follows BEFORE INSERT ON quote_events FOR EACH ROW WHEN (NEW.kind NOT IN {MANY})
    EXECUTE FUNCTION quote_event_follows();
"""

# it runs before the state of quotes follows, and so sees that of before
FOLLOWS = f"""
CREATE FUNCTION quote_events_follow() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE fault text;
BEGIN
    SELECT CASE
        WHEN NOT EXISTS (
            SELECT FROM (VALUES {as_sql()}) AS allowed (before, after)
            WHERE before IS NOT DISTINCT FROM last.kind AND after = w.kind
        ) THEN format('a revision that is %s cannot become %s', coalesce(last.kind, 'new'), w.kind)
        WHEN w.kind = 'draft' AND q.state = 'accepted' THEN 'an accepted quote gets no further revision'
        WHEN w.kind = 'superseded' AND NOT EXISTS (
            SELECT FROM quote_revisions AS later
            WHERE later.org_id = w.org_id AND later.quote_id = w.quote_id AND later.revision > w.revision
        ) THEN 'only a later revision supersedes one'
        END INTO fault
    FROM written AS w
    JOIN quotes AS q ON q.org_id = w.org_id AND q.id = w.quote_id
    LEFT JOIN LATERAL (
        SELECT kind FROM quote_events AS e
        WHERE e.org_id = w.org_id AND e.quote_id = w.quote_id AND e.revision = w.revision AND e.position < w.position
        ORDER BY e.position DESC LIMIT 1
    ) AS last ON true
    WHERE w.kind IN {MANY}
    ORDER BY 1 LIMIT 1;
    IF fault IS NOT NULL THEN
        RAISE integrity_constraint_violation USING
            MESSAGE = fault, CONSTRAINT = 'quote_event_follows', TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER in_order AFTER INSERT ON quote_events REFERENCING NEW TABLE AS written
    FOR EACH STATEMENT EXECUTE FUNCTION quote_events_follow();
"""  # noqa: S608

# runs as the tables' owner, since nobody else may write a quote's state
PROJECTED = """
CREATE FUNCTION quote_states_follow() RETURNS trigger LANGUAGE plpgsql
    SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    WITH standing AS (
        SELECT touched.org_id, touched.quote_id, touched.later, newest.revision AS current,
            issued.revision AS offered, issued.valid_until,
            CASE
                WHEN offer.kind IN ('issued', 'accepted') THEN offer.kind
                WHEN newest.kind = 'draft' THEN 'draft'
                ELSE coalesce(nullif(offer.kind, 'superseded'), newest.kind)
            END AS state
        FROM (
            SELECT org_id, quote_id, max(position) > 1 AS later FROM written GROUP BY org_id, quote_id
        ) AS touched
        CROSS JOIN LATERAL (
            SELECT revision, kind FROM quote_events AS e
            WHERE e.org_id = touched.org_id AND e.quote_id = touched.quote_id
            ORDER BY revision DESC, position DESC LIMIT 1
        ) AS newest
        LEFT JOIN LATERAL (
            SELECT revision, valid_until FROM quote_events AS e
            WHERE e.org_id = touched.org_id AND e.quote_id = touched.quote_id AND e.kind = 'issued'
            ORDER BY revision DESC LIMIT 1
        ) AS issued ON true
        LEFT JOIN LATERAL (
            SELECT kind FROM quote_events AS e
            WHERE e.org_id = touched.org_id AND e.quote_id = touched.quote_id AND e.revision = issued.revision
            ORDER BY position DESC LIMIT 1
        ) AS offer ON true
    )
    UPDATE quotes SET
        current_revision = standing.current,
        offered_revision = standing.offered,
        valid_until = standing.valid_until,
        state = standing.state,
        customer_id = shown.customer_id,
        prices_changed_at =
            CASE WHEN prices_changed_at >= shown.created_at THEN prices_changed_at END,
        version = version + CASE WHEN standing.later THEN 1 ELSE 0 END
    FROM standing JOIN quote_revisions AS shown
        ON shown.org_id = standing.org_id AND shown.quote_id = standing.quote_id AND shown.revision =
            CASE WHEN standing.state = 'draft' THEN standing.current ELSE coalesce(standing.offered, standing.current) END
    WHERE quotes.org_id = standing.org_id AND quotes.id = standing.quote_id;
    RETURN NULL;
END $$;
CREATE TRIGGER projected AFTER INSERT ON quote_events REFERENCING NEW TABLE AS written
    FOR EACH STATEMENT EXECUTE FUNCTION quote_states_follow();
"""

BY_ROW = """
DROP TRIGGER in_order ON quote_events;
DROP TRIGGER next ON quote_events;
CREATE TRIGGER follows BEFORE INSERT ON quote_events FOR EACH ROW EXECUTE FUNCTION quote_event_follows();
CREATE TRIGGER projected AFTER INSERT ON quote_events FOR EACH ROW EXECUTE FUNCTION quote_state_follows();
DROP FUNCTION quote_event_is_next, quote_events_follow, quote_states_follow;
"""
WITHOUT = "DROP TRIGGER follows ON quote_events; DROP TRIGGER projected ON quote_events"


def upgrade() -> None:
    op.execute(WITHOUT)
    for sql in (NEXT, FOLLOWS, PROJECTED):
        op.execute(sql)


def downgrade() -> None:
    """What projects one row was kept for this."""
    op.execute(WITHOUT)
    op.execute(BY_ROW)
