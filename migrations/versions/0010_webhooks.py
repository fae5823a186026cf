"""Webhooks, the events that they are told of, and the deliveries."""

from __future__ import annotations

from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

ROLES = "office_app, office_batch"
KEPT_DAYS = 30

TABLES = """
CREATE TABLE webhooks (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    url text NOT NULL,
    description text NOT NULL DEFAULT '',
    events text[] NOT NULL,
    state text NOT NULL DEFAULT 'enabled' CHECK (state IN ('enabled', 'disabled')),
    disabled_reason text,
    secret text NOT NULL,
    former_secret text,
    former_until timestamptz,
    rotated_at timestamptz,
    failing_since timestamptz,
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id)
);
CREATE INDEX webhooks_org_id_created_at_id_idx ON webhooks (org_id, created_at, id);

CREATE TABLE webhook_events (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    type text NOT NULL,
    body text NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, id)
);
CREATE INDEX webhook_events_created_at_idx ON webhook_events (created_at);

CREATE TABLE webhook_deliveries (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    webhook_id uuid NOT NULL,
    event_id uuid NOT NULL,
    state text NOT NULL DEFAULT 'waiting' CHECK (state IN ('waiting', 'delivered', 'failed', 'stopped')),
    attempts integer NOT NULL DEFAULT 0,
    last_attempt_at timestamptz,
    last_status integer,
    last_error text,
    next_attempt_at timestamptz,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, id),
    UNIQUE (org_id, webhook_id, event_id),
    FOREIGN KEY (org_id, webhook_id) REFERENCES webhooks ON DELETE CASCADE,
    FOREIGN KEY (org_id, event_id) REFERENCES webhook_events ON DELETE CASCADE
);
CREATE INDEX webhook_deliveries_org_id_webhook_id_created_at_id_idx
    ON webhook_deliveries (org_id, webhook_id, created_at, id);
CREATE INDEX webhook_deliveries_org_id_event_id_idx ON webhook_deliveries (org_id, event_id);
"""

WALL = """
ALTER TABLE {table} ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON {table}
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT ON {table} TO {roles};
"""

RIGHTS = f"""
GRANT UPDATE, DELETE ON webhooks TO {ROLES};
GRANT UPDATE ON webhook_deliveries TO {ROLES};
GRANT DELETE ON webhook_events TO office_batch;
-- old events are cleared away for all organisations at once, their deliveries with them
CREATE POLICY old_seen ON webhook_events FOR SELECT TO office_batch
    USING (created_at < now() - interval '{KEPT_DAYS} days');
CREATE POLICY old_purged ON webhook_events FOR DELETE TO office_batch
    USING (created_at < now() - interval '{KEPT_DAYS} days');
CREATE TRIGGER noted AFTER INSERT OR UPDATE OR DELETE ON webhooks FOR EACH ROW
    EXECUTE FUNCTION note_row_change('webhook', '{{secret,former_secret,former_until,failing_since}}');
"""

TABLE_NAMES = ("webhooks", "webhook_events", "webhook_deliveries")


def upgrade() -> None:
    op.execute(TABLES)
    for table in TABLE_NAMES:
        op.execute(WALL.format(table=table, roles=ROLES))
    op.execute(RIGHTS)


def downgrade() -> None:
    for table in reversed(TABLE_NAMES):
        op.execute(f"DROP TABLE {table}")
