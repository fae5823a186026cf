"""Nothing joins a revision after the transaction that wrote it; numbers are given once, counters and versions only rise."""

from __future__ import annotations

from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

PARTS = ("quote_lines", "quote_options")
KEPT = (
    "quotes", "quote_revisions", "quote_takeoffs", "quote_conditions", *PARTS, "quote_events", "quote_counters",
)

# what revisions of before were written in is over long since: no transaction has the number 0
SEALS = """
ALTER TABLE quote_revisions ADD COLUMN written_in bigint NOT NULL DEFAULT 0;
ALTER TABLE quote_revisions ALTER COLUMN written_in DROP DEFAULT;

CREATE FUNCTION refuse_of_quotes(why text, of_table text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
    RAISE integrity_constraint_violation USING
        MESSAGE = why, CONSTRAINT = 'stored_quotes_are_final', TABLE = of_table;
END $$;

-- the transaction is told by the database, whatever the row says
CREATE FUNCTION revision_is_next() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
    NEW.written_in := pg_current_xact_id()::text::bigint;
    IF NEW.revision <> 1 + coalesce((
        SELECT max(revision) FROM quote_revisions WHERE org_id = NEW.org_id AND quote_id = NEW.quote_id
    ), 0) THEN
        PERFORM refuse_of_quotes('a revision follows on the last one', TG_TABLE_NAME);
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER next BEFORE INSERT ON quote_revisions FOR EACH ROW EXECUTE FUNCTION revision_is_next();

CREATE FUNCTION revision_is_open() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
    IF EXISTS (
        SELECT FROM (SELECT DISTINCT org_id, quote_id, revision FROM written) AS of
            LEFT JOIN quote_revisions AS held USING (org_id, quote_id, revision)
        WHERE held.written_in IS DISTINCT FROM pg_current_xact_id()::text::bigint
    ) THEN
        PERFORM refuse_of_quotes('nothing joins a stored revision, a new one is written instead', TG_TABLE_NAME);
    END IF;
    RETURN NULL;
END $$;

CREATE FUNCTION quotes_go_forward() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.number IS NOT NULL AND NEW.number IS DISTINCT FROM OLD.number THEN
        PERFORM refuse_of_quotes('a quote is numbered once', TG_TABLE_NAME);
    ELSIF NEW.version NOT IN (OLD.version, OLD.version + 1) THEN
        PERFORM refuse_of_quotes('a version follows on the last one', TG_TABLE_NAME);
    ELSIF (NEW.org_id, NEW.id, NEW.created_at) <> (OLD.org_id, OLD.id, OLD.created_at)
        OR NEW.parent_id IS DISTINCT FROM OLD.parent_id THEN
        PERFORM refuse_of_quotes('a quote stays the one that it is', TG_TABLE_NAME);
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER forward BEFORE UPDATE ON quotes FOR EACH ROW EXECUTE FUNCTION quotes_go_forward();

CREATE FUNCTION counters_go_up() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (NEW.org_id, NEW.year) <> (OLD.org_id, OLD.year) OR NEW.last <= OLD.last THEN
        PERFORM refuse_of_quotes('a counter of quotes only goes up', TG_TABLE_NAME);
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER up BEFORE UPDATE ON quote_counters FOR EACH ROW EXECUTE FUNCTION counters_go_up();
CREATE TRIGGER removed BEFORE DELETE ON quote_counters FOR EACH ROW EXECUTE FUNCTION stored_quotes_are_final();
CREATE TRIGGER removed BEFORE DELETE ON quotes FOR EACH ROW EXECUTE FUNCTION stored_quotes_are_final();
"""

OPEN = """
CREATE TRIGGER sealed AFTER INSERT ON {table} REFERENCING NEW TABLE AS written
    FOR EACH STATEMENT EXECUTE FUNCTION revision_is_open();
"""
EMPTIED = """
CREATE TRIGGER emptied BEFORE TRUNCATE ON {table} FOR EACH STATEMENT EXECUTE FUNCTION stored_quotes_are_final();
"""

# an offer is superseded before its successor is issued, so that this is asked at the end of the transaction
EVENTS = """
CREATE FUNCTION quote_event_was_told() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE integrity_constraint_violation USING MESSAGE = 'an acceptance names who accepted and their reference',
        CONSTRAINT = 'quote_event_follows', TABLE = TG_TABLE_NAME;
END $$;
CREATE TRIGGER told BEFORE INSERT ON quote_events FOR EACH ROW
    WHEN (NEW.kind = 'accepted' AND (coalesce(NEW.by, '') = '' OR coalesce(NEW.reference, '') = ''))
    EXECUTE FUNCTION quote_event_was_told();

CREATE FUNCTION quote_event_was_followed() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
    IF NOT EXISTS (
        SELECT FROM quote_events AS later
        WHERE later.org_id = NEW.org_id AND later.quote_id = NEW.quote_id AND later.revision > NEW.revision
            AND (later.kind = 'issued' OR NOT EXISTS (
                SELECT FROM quote_events AS own WHERE own.org_id = NEW.org_id AND own.quote_id = NEW.quote_id
                    AND own.revision = NEW.revision AND own.kind = 'issued'
            ))
    ) THEN
        RAISE integrity_constraint_violation USING
            MESSAGE = 'an offer is superseded by one that is issued after it',
            CONSTRAINT = 'quote_event_follows', TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER followed AFTER INSERT ON quote_events DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW WHEN (NEW.kind = 'superseded') EXECUTE FUNCTION quote_event_was_followed();
"""

BACK = """
DROP TRIGGER told ON quote_events;
DROP TRIGGER followed ON quote_events;
DROP TRIGGER removed ON quote_counters;
DROP TRIGGER removed ON quotes;
DROP TRIGGER up ON quote_counters;
DROP TRIGGER forward ON quotes;
DROP TRIGGER next ON quote_revisions;
DROP FUNCTION quote_event_was_told, quote_event_was_followed, counters_go_up, quotes_go_forward, revision_is_open,
    revision_is_next, refuse_of_quotes;
ALTER TABLE quote_revisions DROP COLUMN written_in;
"""


def upgrade() -> None:
    op.execute(SEALS)
    for table in PARTS:
        op.execute(OPEN.format(table=table))
    for table in KEPT:
        op.execute(EMPTIED.format(table=table))
    op.execute(EVENTS)


def downgrade() -> None:
    for table in KEPT:
        op.execute(f"DROP TRIGGER emptied ON {table}")
    for table in PARTS:
        op.execute(f"DROP TRIGGER sealed ON {table}")
    op.execute(BACK)
