"""Ballpark models, and keys that may be shown on a web page."""

from __future__ import annotations

from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

ROLES = "office_app, office_batch"
UP = f"""
CREATE TABLE ballpark_models (
    org_id uuid NOT NULL REFERENCES organisations,
    region text NOT NULL,
    id uuid NOT NULL,
    model bytea NOT NULL,
    price_date date NOT NULL,
    currency char(3) NOT NULL,
    basis text NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, region)
);
ALTER TABLE ballpark_models ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON ballpark_models
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT, DELETE ON ballpark_models TO {ROLES};

ALTER TABLE api_keys
    ADD COLUMN publishable boolean NOT NULL DEFAULT false,
    ADD COLUMN origins text[] NOT NULL DEFAULT '{{}}',
    ADD CONSTRAINT api_keys_publishable_check
        CHECK (NOT publishable OR (scopes = ARRAY['ballpark'] AND cardinality(origins) > 0));
CREATE INDEX api_keys_origins_idx ON api_keys USING gin (origins) WHERE publishable;
-- a browser asks whether an origin may call before it shows its key
CREATE POLICY by_origin ON api_keys FOR SELECT
    USING (publishable AND origins @> ARRAY[nullif(current_setting('app.origin', true), '')]);
-- whose models are to be kept fresh
CREATE POLICY for_ballparks ON api_keys FOR SELECT TO office_batch
    USING (scopes @> ARRAY['ballpark'] AND revoked_at IS NULL);
"""

DOWN = """
DROP POLICY by_origin ON api_keys;
DROP POLICY for_ballparks ON api_keys;
DROP INDEX api_keys_origins_idx;
ALTER TABLE api_keys DROP CONSTRAINT api_keys_publishable_check, DROP COLUMN publishable, DROP COLUMN origins;
DROP TABLE ballpark_models;
"""


def upgrade() -> None:
    op.execute(UP)


def downgrade() -> None:
    op.execute(DOWN)
