"""Backups read all tables of all organisations, under a role that nothing else works with.

The role itself is made where the others are (service/store/migrate.py), since the tables' owner may make none.
"""

from __future__ import annotations

from alembic import op

revision = "0025"
down_revision = "0021b"
branch_labels = None
depends_on = None

SCHEMAS = ("public", "jobs")


def upgrade() -> None:
    for schema in SCHEMAS:
        op.execute(f"GRANT USAGE ON SCHEMA {schema} TO office_backup")
        op.execute(f"GRANT SELECT ON ALL TABLES IN SCHEMA {schema} TO office_backup")
        op.execute(f"GRANT SELECT ON ALL SEQUENCES IN SCHEMA {schema} TO office_backup")
        op.execute(f"ALTER DEFAULT PRIVILEGES IN SCHEMA {schema} GRANT SELECT ON TABLES TO office_backup")
        op.execute(f"ALTER DEFAULT PRIVILEGES IN SCHEMA {schema} GRANT SELECT ON SEQUENCES TO office_backup")


def downgrade() -> None:
    for schema in SCHEMAS:
        op.execute(f"ALTER DEFAULT PRIVILEGES IN SCHEMA {schema} REVOKE SELECT ON TABLES FROM office_backup")
        op.execute(f"ALTER DEFAULT PRIVILEGES IN SCHEMA {schema} REVOKE SELECT ON SEQUENCES FROM office_backup")
        op.execute(f"REVOKE SELECT ON ALL TABLES IN SCHEMA {schema} FROM office_backup")
        op.execute(f"REVOKE SELECT ON ALL SEQUENCES IN SCHEMA {schema} FROM office_backup")
        op.execute(f"REVOKE USAGE ON SCHEMA {schema} FROM office_backup")
