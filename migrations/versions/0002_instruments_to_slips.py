"""Instruments, work sheets, protests and slips.

Revision ID: 0002
Revises: 0001
"""

import sqlalchemy as sa
from alembic import op

from app import database as types

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "instrument",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("serial", sa.String(length=60), nullable=False),
        sa.Column("method", sa.String(length=40), nullable=False),
        sa.Column("resolution", types.ExactDecimal(length=64), nullable=False),
        sa.Column("stated_accuracy", types.ExactDecimal(length=64), nullable=False),
        sa.Column("accuracy_meaning", sa.String(length=20), nullable=False),
        sa.Column("airflow_set_point_l_min", types.ExactDecimal(length=64), nullable=False),
        sa.Column("airflow_tolerance_l_min", types.ExactDecimal(length=64), nullable=False),
        sa.Column("settable_cylinders", sa.JSON(), nullable=False),
        sa.Column("displacement_min_cm3", types.ExactDecimal(length=64), nullable=False),
        sa.Column("displacement_max_cm3", types.ExactDecimal(length=64), nullable=False),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument")),
        sa.UniqueConstraint("name", name=op.f("uq_instrument_name")),
        sa.UniqueConstraint("serial", name=op.f("uq_instrument_serial")),
    )

    op.create_table(
        "calibration",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("laboratory", sa.String(length=120), nullable=False),
        sa.Column("certificate", sa.String(length=60), nullable=False),
        sa.Column("calibrated_on", sa.Date(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column("deviation", types.ExactDecimal(length=64), nullable=False),
        sa.Column("expanded_uncertainty", types.ExactDecimal(length=64), nullable=False),
        sa.Column("coverage_factor", types.ExactDecimal(length=64), nullable=False),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_calibration_instrument_id_instrument")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibration")),
    )
    with op.batch_alter_table("calibration", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_calibration_instrument_id"), ["instrument_id"], unique=False)

    op.create_table(
        "reference_volume",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("serial", sa.String(length=60), nullable=False),
        sa.Column("mark_low", types.ExactDecimal(length=64), nullable=False),
        sa.Column("mark_high", types.ExactDecimal(length=64), nullable=False),
        sa.Column("permitted_deviation", types.ExactDecimal(length=64), nullable=False),
        sa.Column("mark_displacement_cm3", types.ExactDecimal(length=64), nullable=False),
        sa.Column("mark_cylinders", sa.Integer(), nullable=False),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_reference_volume_instrument_id_instrument")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reference_volume")),
        sa.UniqueConstraint("serial", name=op.f("uq_reference_volume_serial")),
    )
    with op.batch_alter_table("reference_volume", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reference_volume_instrument_id"), ["instrument_id"], unique=False)

    op.create_table(
        "verification",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("reference_volume_id", sa.Uuid(), nullable=False),
        sa.Column("stage", sa.String(length=20), nullable=False),
        sa.Column("indications", sa.JSON(), nullable=False),
        sa.Column("airflow_l_min", types.ExactDecimal(length=64), nullable=False),
        sa.Column("ambient_temperature_c", types.ExactDecimal(length=64), nullable=False),
        sa.Column("mean", types.ExactDecimal(length=64), nullable=False),
        sa.Column("standard_deviation", types.ExactDecimal(length=64), nullable=False),
        sa.Column("deviation", types.ExactDecimal(length=64), nullable=False),
        sa.Column("accepted", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("performed_by_id", sa.Uuid(), nullable=False),
        sa.Column("performed_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["event_id"], ["event.id"], name=op.f("fk_verification_event_id_event")),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_verification_instrument_id_instrument")
        ),
        sa.ForeignKeyConstraint(
            ["performed_by_id"], ["person.id"], name=op.f("fk_verification_performed_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["reference_volume_id"],
            ["reference_volume.id"],
            name=op.f("fk_verification_reference_volume_id_reference_volume"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_verification")),
    )
    with op.batch_alter_table("verification", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_verification_event_id"), ["event_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_verification_instrument_id"), ["instrument_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_verification_performed_at"), ["performed_at"], unique=False)

    op.create_table(
        "inspection",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("entry_id", sa.Uuid(), nullable=False),
        sa.Column("rule_id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("opened_by_id", sa.Uuid(), nullable=False),
        sa.Column("opened_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("cautions_confirmed", sa.Boolean(), nullable=False),
        sa.Column("repeats_id", sa.Uuid(), nullable=True),
        sa.Column("repeat_reason", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name=op.f("fk_inspection_entry_id_entry")),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_inspection_instrument_id_instrument")
        ),
        sa.ForeignKeyConstraint(["opened_by_id"], ["person.id"], name=op.f("fk_inspection_opened_by_id_person")),
        sa.ForeignKeyConstraint(["repeats_id"], ["inspection.id"], name=op.f("fk_inspection_repeats_id_inspection")),
        sa.ForeignKeyConstraint(["rule_id"], ["rule.id"], name=op.f("fk_inspection_rule_id_rule")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inspection")),
    )
    with op.batch_alter_table("inspection", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_inspection_entry_id"), ["entry_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_inspection_instrument_id"), ["instrument_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_inspection_opened_at"), ["opened_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_inspection_rule_id"), ["rule_id"], unique=False)

    op.create_table(
        "conditions",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("inspection_id", sa.Uuid(), nullable=False),
        sa.Column("set_displacement_cm3", types.ExactDecimal(length=64), nullable=False),
        sa.Column("set_cylinders", sa.Integer(), nullable=False),
        sa.Column("set_gas_temperature_c", types.ExactDecimal(length=64), nullable=False),
        sa.Column("gas_temperature_c", types.ExactDecimal(length=64), nullable=False),
        sa.Column("temperature_source", sa.String(length=40), nullable=False),
        sa.Column("airflow_l_min", types.ExactDecimal(length=64), nullable=False),
        sa.Column("ambient_temperature_c", types.ExactDecimal(length=64), nullable=True),
        sa.Column("pressure_kpa", types.ExactDecimal(length=64), nullable=True),
        sa.Column("humidity_percent", types.ExactDecimal(length=64), nullable=True),
        sa.Column("taken_by_id", sa.Uuid(), nullable=False),
        sa.Column("taken_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspection.id"], name=op.f("fk_conditions_inspection_id_inspection")
        ),
        sa.ForeignKeyConstraint(["replaces_id"], ["conditions.id"], name=op.f("fk_conditions_replaces_id_conditions")),
        sa.ForeignKeyConstraint(["taken_by_id"], ["person.id"], name=op.f("fk_conditions_taken_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_conditions")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_conditions_replaces_id")),
    )
    with op.batch_alter_table("conditions", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_conditions_inspection_id"), ["inspection_id"], unique=False)

    op.create_table(
        "protest",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("inspection_id", sa.Uuid(), nullable=False),
        sa.Column("lodged_by_id", sa.Uuid(), nullable=False),
        sa.Column("grounds", sa.Text(), nullable=False),
        sa.Column("fee", sa.String(length=60), nullable=False),
        sa.Column("late_reason", sa.Text(), nullable=False),
        sa.Column("taken_in_by_id", sa.Uuid(), nullable=False),
        sa.Column("lodged_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["inspection_id"], ["inspection.id"], name=op.f("fk_protest_inspection_id_inspection")),
        sa.ForeignKeyConstraint(["lodged_by_id"], ["competitor.id"], name=op.f("fk_protest_lodged_by_id_competitor")),
        sa.ForeignKeyConstraint(["taken_in_by_id"], ["person.id"], name=op.f("fk_protest_taken_in_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_protest")),
    )
    with op.batch_alter_table("protest", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_protest_inspection_id"), ["inspection_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_protest_lodged_at"), ["lodged_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_protest_lodged_by_id"), ["lodged_by_id"], unique=False)

    op.create_table(
        "reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("inspection_id", sa.Uuid(), nullable=False),
        sa.Column("cylinder", sa.Integer(), nullable=False),
        sa.Column("indications", sa.JSON(), nullable=False),
        sa.Column("not_measured_reason", sa.Text(), nullable=False),
        sa.Column("taken_by_id", sa.Uuid(), nullable=False),
        sa.Column("taken_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("received_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["inspection_id"], ["inspection.id"], name=op.f("fk_reading_inspection_id_inspection")),
        sa.ForeignKeyConstraint(["replaces_id"], ["reading.id"], name=op.f("fk_reading_replaces_id_reading")),
        sa.ForeignKeyConstraint(["taken_by_id"], ["person.id"], name=op.f("fk_reading_taken_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_reading_replaces_id")),
    )
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reading_inspection_id"), ["inspection_id"], unique=False)

    op.create_table(
        "verdict",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("inspection_id", sa.Uuid(), nullable=False),
        sa.Column("verdict", sa.String(length=20), nullable=False),
        sa.Column("inputs", sa.Text(), nullable=False),
        sa.Column("result", sa.Text(), nullable=False),
        sa.Column("core_version", sa.String(length=20), nullable=False),
        sa.Column("decided_by_id", sa.Uuid(), nullable=False),
        sa.Column("decided_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("acknowledgement_kind", sa.String(length=20), nullable=False),
        sa.Column("acknowledgement_name", sa.String(length=120), nullable=False),
        sa.Column("acknowledgement_path", sa.Text(), nullable=False),
        sa.Column("acknowledgement_note", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["decided_by_id"], ["person.id"], name=op.f("fk_verdict_decided_by_id_person")),
        sa.ForeignKeyConstraint(["inspection_id"], ["inspection.id"], name=op.f("fk_verdict_inspection_id_inspection")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_verdict")),
        sa.UniqueConstraint("inspection_id", name=op.f("uq_verdict_inspection_id")),
    )
    with op.batch_alter_table("verdict", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_verdict_decided_at"), ["decided_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_verdict_decided_by_id"), ["decided_by_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_verdict_verdict"), ["verdict"], unique=False)

    op.create_table(
        "protest_step",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("protest_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_protest_step_by_id_person")),
        sa.ForeignKeyConstraint(["protest_id"], ["protest.id"], name=op.f("fk_protest_step_protest_id_protest")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_protest_step")),
    )
    with op.batch_alter_table("protest_step", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_protest_step_protest_id"), ["protest_id"], unique=False)

    op.create_table(
        "slip",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("verdict_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=8), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.Column("signing_key_id", sa.Uuid(), nullable=False),
        sa.Column("numbered_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["signing_key_id"], ["signing_key.id"], name=op.f("fk_slip_signing_key_id_signing_key")
        ),
        sa.ForeignKeyConstraint(["verdict_id"], ["verdict.id"], name=op.f("fk_slip_verdict_id_verdict")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_slip")),
        sa.UniqueConstraint("code", name=op.f("uq_slip_code")),
        sa.UniqueConstraint("number", name=op.f("uq_slip_number")),
        sa.UniqueConstraint("verdict_id", name=op.f("uq_slip_verdict_id")),
    )

    op.create_table(
        "slip_file",
        sa.Column("slip_id", sa.Uuid(), nullable=False),
        sa.Column("pdf", sa.LargeBinary(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("signed_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["slip_id"], ["slip.id"], name=op.f("fk_slip_file_slip_id_slip")),
        sa.PrimaryKeyConstraint("slip_id", name=op.f("pk_slip_file")),
    )
    with op.batch_alter_table("slip_file", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_slip_file_sha256"), ["sha256"], unique=False)


def downgrade() -> None:
    op.drop_table("slip_file")
    op.drop_table("slip")
    op.drop_table("protest_step")
    op.drop_table("verdict")
    op.drop_table("reading")
    op.drop_table("protest")
    op.drop_table("conditions")
    op.drop_table("inspection")
    op.drop_table("verification")
    op.drop_table("reference_volume")
    op.drop_table("calibration")
    op.drop_table("instrument")
