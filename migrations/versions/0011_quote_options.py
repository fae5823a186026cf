"""Options of a revision: alternatives to the whole of it, each with its own take-off and prices."""

from __future__ import annotations

from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

TABLE = """
CREATE TABLE quote_options (
    org_id uuid NOT NULL REFERENCES organisations,
    quote_id uuid NOT NULL,
    revision integer NOT NULL,
    position integer NOT NULL,
    name text NOT NULL,
    request jsonb NOT NULL,
    takeoff jsonb NOT NULL,
    priced jsonb NOT NULL,
    net numeric,
    tax numeric,
    gross numeric,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, quote_id, revision, position),
    UNIQUE (org_id, quote_id, revision, name),
    FOREIGN KEY (org_id, quote_id, revision) REFERENCES quote_revisions
);
ALTER TABLE quote_options ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON quote_options
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT ON quote_options TO office_app, office_batch;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_options
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_are_final();
"""


def upgrade() -> None:
    op.execute(TABLE)


def downgrade() -> None:
    op.execute("DROP TABLE quote_options")
