"""Instruments looked after: certificates, faults, damage, and what a verdict rests on.

Revision ID: 0005
Revises: 0004
"""

from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

from app import database as types

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "instrument_note",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("happened_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("place", sa.String(length=120), nullable=False),
        sa.Column("affects_indication", sa.Boolean(), nullable=False),
        sa.Column("noted_by_id", sa.Uuid(), nullable=False),
        sa.Column("noted_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_instrument_note_instrument_id_instrument")
        ),
        sa.ForeignKeyConstraint(["noted_by_id"], ["person.id"], name=op.f("fk_instrument_note_noted_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument_note")),
    )
    with op.batch_alter_table("instrument_note", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_instrument_note_instrument_id"), ["instrument_id"], unique=False)

    op.create_table(
        "certificate_file",
        sa.Column("calibration_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("media_type", sa.String(length=40), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("attached_by_id", sa.Uuid(), nullable=False),
        sa.Column("attached_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["attached_by_id"], ["person.id"], name=op.f("fk_certificate_file_attached_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["calibration_id"], ["calibration.id"], name=op.f("fk_certificate_file_calibration_id_calibration")
        ),
        sa.PrimaryKeyConstraint("calibration_id", name=op.f("pk_certificate_file")),
    )
    op.create_table(
        "condemnation",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("reference_volume_id", sa.Uuid(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("last_sound_at", types.UtcDateTime(timezone=True), nullable=True),
        sa.Column("condemned_by_id", sa.Uuid(), nullable=False),
        sa.Column("condemned_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["condemned_by_id"], ["person.id"], name=op.f("fk_condemnation_condemned_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["reference_volume_id"],
            ["reference_volume.id"],
            name=op.f("fk_condemnation_reference_volume_id_reference_volume"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_condemnation")),
        sa.UniqueConstraint("reference_volume_id", name=op.f("uq_condemnation_reference_volume_id")),
    )
    op.create_table(
        "doubt_cause",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=30), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("calibration_id", sa.Uuid(), nullable=True),
        sa.Column("since", types.UtcDateTime(timezone=True), nullable=True),
        sa.Column("until", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("raised_by_id", sa.Uuid(), nullable=False),
        sa.Column("raised_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["calibration_id"], ["calibration.id"], name=op.f("fk_doubt_cause_calibration_id_calibration")
        ),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_doubt_cause_instrument_id_instrument")
        ),
        sa.ForeignKeyConstraint(["raised_by_id"], ["person.id"], name=op.f("fk_doubt_cause_raised_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_doubt_cause")),
    )
    with op.batch_alter_table("doubt_cause", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_doubt_cause_instrument_id"), ["instrument_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_doubt_cause_raised_at"), ["raised_at"], unique=False)

    op.create_table(
        "withdrawal",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("calibration_id", sa.Uuid(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("withdrawn_by_id", sa.Uuid(), nullable=False),
        sa.Column("withdrawn_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["calibration_id"], ["calibration.id"], name=op.f("fk_withdrawal_calibration_id_calibration")
        ),
        sa.ForeignKeyConstraint(["withdrawn_by_id"], ["person.id"], name=op.f("fk_withdrawal_withdrawn_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_withdrawal")),
        sa.UniqueConstraint("calibration_id", name=op.f("uq_withdrawal_calibration_id")),
    )
    with op.batch_alter_table("calibration", schema=None) as batch_op:
        batch_op.add_column(sa.Column("points", sa.JSON(), nullable=False, server_default="[]"))

    # as strict as a rule book that says nothing: what is overdue is not used
    with op.batch_alter_table("edition", schema=None) as batch_op:
        batch_op.add_column(sa.Column("overdue_days_allowed", sa.Integer(), nullable=False, server_default="0"))

    with op.batch_alter_table("reference_volume", schema=None) as batch_op:
        batch_op.add_column(sa.Column("mark_expanded_uncertainty", types.ExactDecimal(length=64), nullable=True))

    with op.batch_alter_table("verification", schema=None) as batch_op:
        batch_op.add_column(sa.Column("set_gas_temperature_c", types.ExactDecimal(length=64), nullable=True))
        batch_op.add_column(sa.Column("steps_confirmed", sa.JSON(), nullable=False, server_default="[]"))
        batch_op.add_column(sa.Column("e_n", types.ExactDecimal(length=64), nullable=True))

    with op.batch_alter_table("verdict", schema=None) as batch_op:
        batch_op.add_column(sa.Column("instrument_id", sa.Uuid(), nullable=True))
        batch_op.add_column(sa.Column("calibration_id", sa.Uuid(), nullable=True))
        batch_op.add_column(sa.Column("measured_from", types.UtcDateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("measured_until", types.UtcDateTime(timezone=True), nullable=True))
    for column, value in _of_earlier_verdicts().items():
        op.execute(f"UPDATE verdict SET {column} = ({value})")  # noqa: S608  # our own words
    with op.batch_alter_table("verdict", schema=None) as batch_op:
        for column in ("instrument_id", "measured_from", "measured_until"):
            batch_op.alter_column(column, nullable=False)
        batch_op.create_index("ix_verdict_calibration", ["calibration_id", "id"], unique=False)
        measured = ["instrument_id", "measured_until", "id", "measured_from"]
        batch_op.create_index("ix_verdict_measured", measured, unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_verdict_instrument_id_instrument"), "instrument", ["instrument_id"], ["id"]
        )
        batch_op.create_foreign_key(
            batch_op.f("fk_verdict_calibration_id_calibration"), "calibration", ["calibration_id"], ["id"]
        )
    _doubt_after_earlier_closings()


def _of_earlier_verdicts() -> dict[str, str]:
    """What each rested on, worked out once from its sheet as the slip was: by the day on which the sheet was opened."""
    on_postgresql = op.get_bind().dialect.name == "postgresql"
    opened_on = "CAST(i.opened_at AT TIME ZONE 'UTC' AS date)" if on_postgresql else "date(i.opened_at)"
    measured = (
        "SELECT coalesce({which}(r.taken_at), verdict.decided_at) FROM reading r "
        "WHERE r.inspection_id = verdict.inspection_id "
        "AND NOT EXISTS (SELECT 1 FROM reading n WHERE n.replaces_id = r.id)"
    )
    return {
        "instrument_id": "SELECT i.instrument_id FROM inspection i WHERE i.id = verdict.inspection_id",
        "calibration_id": (
            "SELECT c.id FROM calibration c JOIN inspection i ON i.instrument_id = c.instrument_id "
            "WHERE i.id = verdict.inspection_id AND c.calibrated_on <= OPENED_ON "
            "ORDER BY c.calibrated_on DESC, c.created_at DESC LIMIT 1"
        ).replace("OPENED_ON", opened_on),
        "measured_from": measured.format(which="min"),
        "measured_until": measured.format(which="max"),
    }


def _doubt_after_earlier_closings() -> None:
    """A closing that missed its mark puts in doubt what was measured since the last good verification, at any event.

    Not so one that was only off its airflow. No reference volume was condemned before this revision. Which verdicts
    are concerned is found when the logbook starts next.
    """
    cause, check, good = _table("doubt_cause"), _table("verification"), _table("verification").alias("good")
    instrument, volume, event = _table("instrument"), _table("reference_volume"), _table("event")
    last_good = (
        sa.select(sa.func.max(good.c.performed_at, type_=types.UtcDateTime()))
        .where(
            good.c.instrument_id == check.c.instrument_id,
            good.c.accepted.is_(True),
            good.c.performed_at <= check.c.performed_at,
        )
        .scalar_subquery()
    )
    missed = (
        sa.select(
            check,
            last_good.label("since"),
            instrument.c.name.label("instrument"),
            instrument.c.airflow_set_point_l_min,
            instrument.c.airflow_tolerance_l_min,
            volume.c.serial,
            volume.c.mark_low,
            volume.c.mark_high,
            volume.c.permitted_deviation,
            event.c.name.label("event"),
        )
        .join(instrument, instrument.c.id == check.c.instrument_id)
        .join(volume, volume.c.id == check.c.reference_volume_id)
        .join(event, event.c.id == check.c.event_id)
        .where(check.c.stage == "closing", check.c.accepted.is_(False))
    )
    connection = op.get_bind()
    for row in connection.execute(missed).all():
        if abs(row.airflow_l_min - row.airflow_set_point_l_min) > row.airflow_tolerance_l_min:
            continue
        lowest, highest = row.mark_low - row.permitted_deviation, row.mark_high + row.permitted_deviation
        reason = (
            f"{row.instrument} missed its mark at its closing verification, {row.event}, {_moment(row.performed_at)}. "
            f"Reference volume {row.serial} read {round(row.mean, 3):f}; "
            f"it must be between {lowest:f} and {highest:f}. "
            + (
                f"The last good verification before that was made on {_moment(row.since)}."
                if row.since
                else "No good verification was made before that."
            )
        )
        connection.execute(
            cause.insert().values(
                id=row.id,
                kind="missed_mark",
                instrument_id=row.instrument_id,
                since=row.since,
                until=row.performed_at,
                reason=reason,
                raised_by_id=row.performed_by_id,
                raised_at=row.performed_at,
            )
        )


def _moment(at: datetime) -> str:
    there = at.astimezone(UTC)
    return f"{there.day} {there:%B %Y}, {there:%H:%M} UTC"


_COLUMNS: dict[str, dict[str, Any]] = {
    "event": {"id": sa.Uuid, "name": sa.String},
    "instrument": {
        "id": sa.Uuid,
        "name": sa.String,
        "airflow_set_point_l_min": types.ExactDecimal,
        "airflow_tolerance_l_min": types.ExactDecimal,
    },
    "reference_volume": {
        "id": sa.Uuid,
        "serial": sa.String,
        "mark_low": types.ExactDecimal,
        "mark_high": types.ExactDecimal,
        "permitted_deviation": types.ExactDecimal,
    },
    "verification": {
        "id": sa.Uuid,
        "event_id": sa.Uuid,
        "instrument_id": sa.Uuid,
        "reference_volume_id": sa.Uuid,
        "stage": sa.String,
        "airflow_l_min": types.ExactDecimal,
        "mean": types.ExactDecimal,
        "accepted": sa.Boolean,
        "performed_by_id": sa.Uuid,
        "performed_at": types.UtcDateTime,
    },
    "doubt_cause": {
        "id": sa.Uuid,
        "kind": sa.String,
        "instrument_id": sa.Uuid,
        "since": types.UtcDateTime,
        "until": types.UtcDateTime,
        "reason": sa.Text,
        "raised_by_id": sa.Uuid,
        "raised_at": types.UtcDateTime,
    },
}


def _table(name: str) -> Any:
    """As it is at this revision, what is asked of it."""
    return sa.table(name, *(sa.column(column, kind()) for column, kind in _COLUMNS[name].items()))


def downgrade() -> None:
    with op.batch_alter_table("verdict", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_verdict_calibration_id_calibration"), type_="foreignkey")
        batch_op.drop_constraint(batch_op.f("fk_verdict_instrument_id_instrument"), type_="foreignkey")
        batch_op.drop_index("ix_verdict_measured")
        batch_op.drop_index("ix_verdict_calibration")
        for column in ("measured_until", "measured_from", "calibration_id", "instrument_id"):
            batch_op.drop_column(column)
    with op.batch_alter_table("verification", schema=None) as batch_op:
        for column in ("e_n", "steps_confirmed", "set_gas_temperature_c"):
            batch_op.drop_column(column)
    with op.batch_alter_table("reference_volume", schema=None) as batch_op:
        batch_op.drop_column("mark_expanded_uncertainty")
    with op.batch_alter_table("edition", schema=None) as batch_op:
        batch_op.drop_column("overdue_days_allowed")
    with op.batch_alter_table("calibration", schema=None) as batch_op:
        batch_op.drop_column("points")
    op.drop_table("withdrawal")
    op.drop_table("doubt_cause")
    op.drop_table("condemnation")
    op.drop_table("certificate_file")
    op.drop_table("instrument_note")
