"""Repricing carries what hours are charged at, by the conditions of before and by those that follow."""

from __future__ import annotations

from alembic import op

revision = "0020"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute(
        "ALTER TABLE repricing_conditions ADD COLUMN hourly_charge numeric, ADD COLUMN old_hourly_charge numeric,"
        " ADD COLUMN charge_note text NOT NULL DEFAULT ''"
    )


def downgrade() -> None:
    op.execute(
        "ALTER TABLE repricing_conditions DROP COLUMN hourly_charge, DROP COLUMN old_hourly_charge,"
        " DROP COLUMN charge_note"
    )
