"""Labour tables by crew, hours charged at a rate, and rates fitted to booked hours."""

from __future__ import annotations

from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

UP = """
ALTER TABLE labour_tables
    ADD COLUMN crew_name text,
    ADD COLUMN hourly_charge numeric(14, 4);

CREATE TABLE labour_calibrations (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    labour_table_id uuid NOT NULL,
    bookings jsonb NOT NULL,
    result jsonb NOT NULL,
    state text NOT NULL DEFAULT 'proposed' CHECK (state IN ('proposed', 'accepted')),
    accepted_table_id uuid,
    accepted_at timestamptz,
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id),
    FOREIGN KEY (org_id, labour_table_id) REFERENCES labour_tables,
    FOREIGN KEY (org_id, accepted_table_id) REFERENCES labour_tables,
    CHECK ((state = 'accepted') = (accepted_table_id IS NOT NULL)),
    CHECK ((state = 'accepted') = (accepted_at IS NOT NULL))
);
CREATE INDEX labour_calibrations_org_id_created_at_id_idx ON labour_calibrations (org_id, created_at, id);

ALTER TABLE labour_calibrations ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON labour_calibrations
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE ON labour_calibrations TO office_app, office_batch;
CREATE TRIGGER noted AFTER INSERT OR UPDATE OR DELETE ON labour_calibrations
    FOR EACH ROW EXECUTE FUNCTION note_row_change('labour_calibration', '{bookings,result}');
"""

DOWN = """
DROP TABLE labour_calibrations;
ALTER TABLE labour_tables DROP COLUMN crew_name, DROP COLUMN hourly_charge;
"""


def upgrade() -> None:
    op.execute(UP)


def downgrade() -> None:
    op.execute(DOWN)
