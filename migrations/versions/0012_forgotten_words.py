"""What people said when a quote was accepted or declined can be emptied, once their customer is erased."""

from __future__ import annotations

from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

# runs as whoever updates; no table of theirs may stand before the ones that it asks
DOOR = """
CREATE FUNCTION quote_events_are_final() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
DECLARE
    words CONSTANT text[] := ARRAY['by', 'reference', 'note'];
    before CONSTANT jsonb := to_jsonb(OLD);
    after CONSTANT jsonb := CASE WHEN TG_OP = 'UPDATE' THEN to_jsonb(NEW) END;
BEGIN
    IF after - words = before - words
        AND jsonb_strip_nulls(after) <@ jsonb_strip_nulls(before)
        AND EXISTS (
            SELECT FROM quote_revisions AS of JOIN customers ON (customers.org_id, customers.id) = (of.org_id, of.customer_id)
            WHERE (of.org_id, of.quote_id, of.revision) = (OLD.org_id, OLD.quote_id, OLD.revision)
                AND customers.erased_at IS NOT NULL
        )
    THEN
        RETURN NEW;
    END IF;
    RAISE integrity_constraint_violation USING
        MESSAGE = 'what is stored of a quote never changes, more is written instead',
        CONSTRAINT = 'stored_quotes_are_final', TABLE = TG_TABLE_NAME;
END $$;
DROP TRIGGER changed ON quote_events;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_events
    FOR EACH ROW EXECUTE FUNCTION quote_events_are_final();
GRANT UPDATE (by, reference, note) ON quote_events TO office_app;
"""

SHUT = """
REVOKE UPDATE (by, reference, note) ON quote_events FROM office_app;
DROP TRIGGER changed ON quote_events;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_events
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_are_final();
DROP FUNCTION quote_events_are_final;
"""


def upgrade() -> None:
    op.execute(DOOR)


def downgrade() -> None:
    op.execute(SHUT)
