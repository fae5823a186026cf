"""Repricing that makes baskets anew: what a supplier asks of orders, and when prices changed, by product and role."""

from __future__ import annotations

from alembic import op

revision = "0021"
down_revision = "0018"
branch_labels = None
depends_on = None

TABLES = """
ALTER TABLE repricing_suppliers ADD COLUMN minimum_order numeric,
    ADD COLUMN lead_time_days integer NOT NULL DEFAULT 0, ADD COLUMN region text;
ALTER TABLE repricing_prices ADD COLUMN changed_at timestamptz, ADD COLUMN begins date;

CREATE TABLE repricing_roles (
    org_id uuid NOT NULL REFERENCES organisations,
    repricing_id uuid NOT NULL,
    role text NOT NULL,
    changed_at timestamptz NOT NULL,
    begins date NOT NULL,
    selected boolean NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, repricing_id, role),
    FOREIGN KEY (org_id, repricing_id) REFERENCES repricings
);
ALTER TABLE repricing_roles ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON repricing_roles
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT, DELETE ON repricing_roles TO office_app, office_batch;
"""


def upgrade() -> None:
    op.execute(TABLES)


def downgrade() -> None:
    op.execute("DROP TABLE repricing_roles")
    op.execute("ALTER TABLE repricing_prices DROP COLUMN changed_at, DROP COLUMN begins")
    op.execute(
        "ALTER TABLE repricing_suppliers DROP COLUMN minimum_order, DROP COLUMN lead_time_days, DROP COLUMN region"
    )
