"""What happens to quotes, in a table that only grows; a quote's state follows from it and from nothing else."""

from __future__ import annotations

from alembic import op

from service.store.life import KINDS, as_sql

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

ROLES = "office_app, office_batch"
WALLED = ("quotes", "quote_revisions", "quote_events")
DAYS = 30  # common practice
WORDS = ", ".join(f"'{kind}'" for kind in KINDS)

TABLES = f"""
CREATE TABLE quote_events (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    quote_id uuid NOT NULL,
    revision integer NOT NULL,
    position integer NOT NULL DEFAULT 0,
    kind text NOT NULL CHECK (kind IN ({WORDS})),
    at timestamptz NOT NULL,
    key_id uuid,
    by text,
    reference text,
    note text,
    scope jsonb,
    valid_until date,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, id),
    UNIQUE (org_id, quote_id, position),
    FOREIGN KEY (org_id, quote_id, revision) REFERENCES quote_revisions,
    FOREIGN KEY (org_id, key_id) REFERENCES api_keys,
    CONSTRAINT quote_events_validity_check CHECK ((kind = 'issued') = (valid_until IS NOT NULL))
);
ALTER TABLE quote_revisions ADD COLUMN customer_id uuid,
    ADD FOREIGN KEY (org_id, customer_id) REFERENCES customers;
ALTER TABLE quotes ADD COLUMN offered_revision integer, ADD COLUMN valid_until date,
    ADD COLUMN parent_id uuid, ADD FOREIGN KEY (org_id, parent_id) REFERENCES quotes,
    ALTER COLUMN current_revision SET DEFAULT 1;
CREATE INDEX quotes_org_id_parent_id_idx ON quotes (org_id, parent_id);
CREATE INDEX quotes_org_id_state_created_at_id_idx ON quotes (org_id, state, created_at, id);
CREATE INDEX quotes_on_offer_idx ON quotes (valid_until) WHERE state = 'issued';
"""

CARRY_OVER = f"""
DROP TRIGGER changed ON quote_revisions;
-- what was offered had no last day yet: it gets {DAYS} days
INSERT INTO quote_events (org_id, id, quote_id, revision, position, kind, at, valid_until)
SELECT org_id, gen_random_uuid(), quote_id, revision,
    row_number() OVER (PARTITION BY org_id, quote_id ORDER BY revision, place), kind, created_at,
    CASE WHEN kind = 'issued' THEN (created_at AT TIME ZONE 'UTC')::date + {DAYS} END
FROM quote_revisions, unnest(ARRAY[
    'draft',
    CASE WHEN state NOT IN ('draft', 'superseded') THEN 'issued' END,
    nullif(nullif(state, 'draft'), 'issued')
]) WITH ORDINALITY AS happened (kind, place)
WHERE kind IS NOT NULL;
UPDATE quotes SET offered_revision = offer.revision, valid_until = offer.valid_until
FROM (
    SELECT DISTINCT ON (org_id, quote_id) * FROM quote_events
    WHERE kind = 'issued' ORDER BY org_id, quote_id, revision DESC
) AS offer
WHERE quotes.org_id = offer.org_id AND quotes.id = offer.quote_id;
UPDATE quote_revisions SET
    customer_id = quotes.customer_id,
    request = (request - 'customer')
        || CASE WHEN quotes.customer_id IS NULL THEN '{{}}' ELSE jsonb_build_object('customer_id', quotes.customer_id) END
FROM quotes WHERE quotes.org_id = quote_revisions.org_id AND quotes.id = quote_revisions.quote_id;
ALTER TABLE quote_revisions DROP COLUMN state;
"""  # noqa: S608

RULES = f"""
CREATE FUNCTION stored_quotes_are_final() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE integrity_constraint_violation USING
        MESSAGE = 'what is stored of a quote never changes, more is written instead',
        CONSTRAINT = 'stored_quotes_are_final', TABLE = TG_TABLE_NAME;
END $$;

CREATE FUNCTION quote_event_follows() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE last text; fault text;
BEGIN
    -- the lock puts the events of a quote in one order, whoever writes them
    PERFORM FROM quotes WHERE org_id = NEW.org_id AND id = NEW.quote_id FOR UPDATE;
    SELECT kind INTO last FROM quote_events
        WHERE org_id = NEW.org_id AND quote_id = NEW.quote_id AND revision = NEW.revision
        ORDER BY position DESC LIMIT 1;
    SELECT coalesce(max(position), 0) + 1 INTO NEW.position FROM quote_events
        WHERE org_id = NEW.org_id AND quote_id = NEW.quote_id;
    IF NOT EXISTS (
        SELECT FROM (VALUES {as_sql()}) AS allowed (before, after)
        WHERE before IS NOT DISTINCT FROM last AND after = NEW.kind
    ) THEN
        fault := format('a revision that is %s cannot become %s', coalesce(last, 'new'), NEW.kind);
    ELSIF NEW.kind = 'draft' AND EXISTS (
        SELECT FROM quotes WHERE org_id = NEW.org_id AND id = NEW.quote_id AND state = 'accepted'
    ) THEN
        fault := 'an accepted quote gets no further revision';
    ELSIF NEW.kind = 'issued' AND EXISTS (
        SELECT FROM quote_revisions
        WHERE org_id = NEW.org_id AND quote_id = NEW.quote_id AND revision = NEW.revision AND gross IS NULL
    ) THEN
        fault := 'a revision without a price cannot be issued';
    ELSIF NEW.kind = 'issued' AND EXISTS (
        SELECT FROM quotes WHERE org_id = NEW.org_id AND id = NEW.quote_id AND state IN ('issued', 'accepted')
    ) THEN
        fault := 'another revision is on offer';
    ELSIF NEW.kind = 'superseded' AND NOT EXISTS (
        SELECT FROM quote_revisions
        WHERE org_id = NEW.org_id AND quote_id = NEW.quote_id AND revision > NEW.revision
    ) THEN
        fault := 'only a later revision supersedes one';
    END IF;
    IF fault IS NOT NULL THEN
        RAISE integrity_constraint_violation USING
            MESSAGE = fault, CONSTRAINT = 'quote_event_follows', TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;

-- runs as the tables' owner, since nobody else may write a quote's state
CREATE FUNCTION quote_state_follows() RETURNS trigger LANGUAGE plpgsql
    SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    WITH happened AS (
        SELECT * FROM quote_events WHERE org_id = NEW.org_id AND quote_id = NEW.quote_id
    ), newest AS (
        SELECT revision, kind FROM happened ORDER BY revision DESC, position DESC LIMIT 1
    ), issued AS (
        SELECT revision, valid_until FROM happened WHERE kind = 'issued' ORDER BY revision DESC LIMIT 1
    ), offer AS (
        SELECT issued.revision, issued.valid_until, happened.kind
        FROM issued JOIN happened USING (revision) ORDER BY happened.position DESC LIMIT 1
    ), standing AS (
        SELECT newest.revision AS current, offer.revision AS offered, offer.valid_until,
            CASE
                WHEN offer.kind IN ('issued', 'accepted') THEN offer.kind
                WHEN newest.kind = 'draft' THEN 'draft'
                ELSE coalesce(nullif(offer.kind, 'superseded'), newest.kind)
            END AS state
        FROM newest LEFT JOIN offer ON true
    )
    UPDATE quotes SET
        current_revision = standing.current,
        offered_revision = standing.offered,
        valid_until = standing.valid_until,
        state = standing.state,
        customer_id = shown.customer_id,
        prices_changed_at =
            CASE WHEN prices_changed_at >= shown.created_at THEN prices_changed_at END,
        version = version + CASE WHEN NEW.position > 1 THEN 1 ELSE 0 END
    FROM standing JOIN quote_revisions AS shown
        ON shown.org_id = NEW.org_id AND shown.quote_id = NEW.quote_id AND shown.revision =
            CASE WHEN standing.state = 'draft' THEN standing.current ELSE coalesce(standing.offered, standing.current) END
    WHERE quotes.org_id = NEW.org_id AND quotes.id = NEW.quote_id;
    RETURN NULL;
END $$;

CREATE TRIGGER follows BEFORE INSERT ON quote_events
    FOR EACH ROW EXECUTE FUNCTION quote_event_follows();
CREATE TRIGGER projected AFTER INSERT ON quote_events
    FOR EACH ROW EXECUTE FUNCTION quote_state_follows();
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_events
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_are_final();
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_revisions
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_are_final();
DROP TRIGGER changed ON quote_lines;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_lines
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_are_final();
DROP FUNCTION stored_quotes_stay;
"""  # noqa: S608

RIGHTS = f"""
ALTER TABLE quote_events ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON quote_events
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT ON quote_events TO {ROLES};
REVOKE UPDATE ON quote_revisions FROM {ROLES};
REVOKE INSERT, UPDATE ON quotes FROM {ROLES};
GRANT INSERT (org_id, id, number, customer_id, parent_id, prices_changed_at, created_at, version),
    UPDATE (number, prices_changed_at, version) ON quotes TO {ROLES};
-- offers of all organisations that may have run out: in no time zone is it two days later than in UTC
CREATE POLICY run_out_seen ON quotes FOR SELECT TO office_batch
    USING (state = 'issued' AND valid_until <= (now() AT TIME ZONE 'UTC')::date);
"""

BACK = f"""
DROP POLICY run_out_seen ON quotes;
REVOKE ALL ON quotes FROM {ROLES};
GRANT SELECT, INSERT, UPDATE ON quotes TO {ROLES};
GRANT UPDATE ON quote_revisions TO {ROLES};
DROP TRIGGER changed ON quote_revisions;
DROP TRIGGER changed ON quote_lines;
ALTER TABLE quote_revisions ADD COLUMN state text NOT NULL DEFAULT 'draft' CHECK (state IN ({WORDS}));
UPDATE quote_revisions SET state = (
    SELECT kind FROM quote_events AS happened
    WHERE happened.org_id = quote_revisions.org_id AND happened.quote_id = quote_revisions.quote_id
        AND happened.revision = quote_revisions.revision
    ORDER BY position DESC LIMIT 1
);
ALTER TABLE quote_revisions DROP COLUMN customer_id;
DROP TABLE quote_events;
DROP FUNCTION quote_event_follows, quote_state_follows, stored_quotes_are_final;
DROP INDEX quotes_on_offer_idx, quotes_org_id_state_created_at_id_idx;
ALTER TABLE quotes DROP COLUMN offered_revision, DROP COLUMN valid_until, DROP COLUMN parent_id,
    ALTER COLUMN current_revision DROP DEFAULT;
CREATE FUNCTION stored_quotes_stay() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' OR to_jsonb(NEW) - 'state' <> to_jsonb(OLD) - 'state' THEN
        RAISE integrity_constraint_violation USING
            MESSAGE = 'a stored revision never changes, a new one is written instead',
            CONSTRAINT = 'stored_quotes_stay', TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_revisions
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_stay();
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_lines
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_stay();
"""  # noqa: S608


def _walls(forced: bool, *tables: str) -> None:
    """The owner is walled off like everybody; to carry rows over it steps past the wall for a moment."""
    for table in tables:
        op.execute(f"ALTER TABLE {table} {'FORCE' if forced else 'NO FORCE'} ROW LEVEL SECURITY")


def upgrade() -> None:
    op.execute(TABLES)
    _walls(False, "quotes", "quote_revisions")
    op.execute(CARRY_OVER)
    _walls(True, "quotes", "quote_revisions")
    op.execute(RULES)
    op.execute(RIGHTS)


def downgrade() -> None:
    _walls(False, *WALLED)
    op.execute(BACK)
    _walls(True, "quotes", "quote_revisions")
