"""People, log, rules and entries.

Revision ID: 0001
Revises:
"""

import sqlalchemy as sa
from alembic import op

from app import database as types

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "engine",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("serial", sa.String(length=60), nullable=False),
        sa.Column("cylinders", sa.Integer(), nullable=False),
        sa.Column("bore_mm", types.ExactDecimal(length=64), nullable=False),
        sa.Column("stroke_mm", types.ExactDecimal(length=64), nullable=False),
        sa.Column("declared_displacement_cm3", types.ExactDecimal(length=64), nullable=False),
        sa.Column("seals", sa.JSON(), nullable=False),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["replaces_id"], ["engine.id"], name=op.f("fk_engine_replaces_id_engine")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine")),
    )
    with op.batch_alter_table("engine", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_engine_serial"), ["serial"], unique=False)

    op.create_table(
        "log_entry",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("action", sa.String(length=60), nullable=False),
        sa.Column("actor", sa.String(length=200), nullable=False),
        sa.Column("subject", sa.Uuid(), nullable=True),
        sa.Column("entry", sa.Text(), nullable=False),
        sa.Column("digest", sa.LargeBinary(length=32), nullable=False),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_log_entry")),
    )
    with op.batch_alter_table("log_entry", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_log_entry_subject"), ["subject"], unique=False)

    op.create_table(
        "person",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("sign_in_name", sa.String(length=60), nullable=False),
        sa.Column("full_name", sa.String(length=120), nullable=False),
        sa.Column("roles", sa.JSON(), nullable=False),
        sa.Column("password_hash", sa.String(length=200), nullable=False),
        sa.Column("units", sa.String(length=10), nullable=False),
        sa.Column("pad_side", sa.String(length=10), nullable=False),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("sign_in_name", name=op.f("uq_person_sign_in_name")),
    )

    op.create_table(
        "series",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_series")),
        sa.UniqueConstraint("name", name=op.f("uq_series_name")),
    )

    op.create_table(
        "throttle",
        sa.Column("key", sa.String(length=160), nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("blocked_until", types.UtcDateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_throttle")),
    )

    op.create_table(
        "competitor",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("licence", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_competitor_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_competitor")),
        sa.UniqueConstraint("licence", name=op.f("uq_competitor_licence")),
        sa.UniqueConstraint("person_id", name=op.f("uq_competitor_person_id")),
    )

    op.create_table(
        "event",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("series_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("venue", sa.String(length=120), nullable=False),
        sa.Column("starts_on", sa.Date(), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=False),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["series_id"], ["series.id"], name=op.f("fk_event_series_id_series")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
        sa.UniqueConstraint("series_id", "name", name=op.f("uq_event_series_id_name")),
    )
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_event_series_id"), ["series_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_event_starts_on"), ["starts_on"], unique=False)

    op.create_table(
        "race_class",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("series_id", sa.Uuid(), nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["series_id"], ["series.id"], name=op.f("fk_race_class_series_id_series")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_race_class")),
        sa.UniqueConstraint("series_id", "code", name=op.f("uq_race_class_series_id_code")),
    )
    with op.batch_alter_table("race_class", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_race_class_series_id"), ["series_id"], unique=False)

    op.create_table(
        "sign_in_session",
        sa.Column("token_sha256", sa.LargeBinary(length=32), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=False),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("last_seen_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_sign_in_session_person_id_person")),
        sa.PrimaryKeyConstraint("token_sha256", name=op.f("pk_sign_in_session")),
    )
    with op.batch_alter_table("sign_in_session", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_in_session_person_id"), ["person_id"], unique=False)

    op.create_table(
        "signing_key",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=False),
        sa.Column("certificate_pem", sa.Text(), nullable=False),
        sa.Column("certificate_serial", sa.String(length=60), nullable=False),
        sa.Column("sealed", sa.JSON(), nullable=False),
        sa.Column("issued_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_signing_key_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signing_key")),
        sa.UniqueConstraint("certificate_serial", name=op.f("uq_signing_key_certificate_serial")),
    )
    with op.batch_alter_table("signing_key", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_signing_key_person_id"), ["person_id"], unique=False)

    op.create_table(
        "edition",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("class_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("in_force_from", sa.Date(), nullable=False),
        sa.Column("protest_minutes", sa.Integer(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("published_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("published_by_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["class_id"], ["race_class.id"], name=op.f("fk_edition_class_id_race_class")),
        sa.ForeignKeyConstraint(["published_by_id"], ["person.id"], name=op.f("fk_edition_published_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_edition")),
        sa.UniqueConstraint("class_id", "number", name=op.f("uq_edition_class_id_number")),
    )
    with op.batch_alter_table("edition", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_edition_class_id"), ["class_id"], unique=False)

    op.create_table(
        "entry",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=False),
        sa.Column("class_id", sa.Uuid(), nullable=False),
        sa.Column("competitor_id", sa.Uuid(), nullable=False),
        sa.Column("engine_id", sa.Uuid(), nullable=False),
        sa.Column("car_number", sa.String(length=10), nullable=False),
        sa.Column("created_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["class_id"], ["race_class.id"], name=op.f("fk_entry_class_id_race_class")),
        sa.ForeignKeyConstraint(["competitor_id"], ["competitor.id"], name=op.f("fk_entry_competitor_id_competitor")),
        sa.ForeignKeyConstraint(["engine_id"], ["engine.id"], name=op.f("fk_entry_engine_id_engine")),
        sa.ForeignKeyConstraint(["event_id"], ["event.id"], name=op.f("fk_entry_event_id_event")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_entry")),
        sa.UniqueConstraint("event_id", "car_number", name=op.f("uq_entry_event_id_car_number")),
    )
    with op.batch_alter_table("entry", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_entry_class_id"), ["class_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_entry_competitor_id"), ["competitor_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_entry_engine_id"), ["engine_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_entry_event_id"), ["event_id"], unique=False)

    op.create_table(
        "rule",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("edition_id", sa.Uuid(), nullable=False),
        sa.Column("clause", sa.String(length=20), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("quantity", sa.String(length=60), nullable=False),
        sa.Column("kind", sa.String(length=30), nullable=False),
        sa.Column("limit", types.ExactDecimal(length=64), nullable=False),
        sa.Column("tolerance", types.ExactDecimal(length=64), nullable=False),
        sa.Column("applies_to", sa.String(length=30), nullable=False),
        sa.Column("decision_rule", sa.String(length=30), nullable=False),
        sa.Column("confidence", types.ExactDecimal(length=64), nullable=False),
        sa.Column("inconclusive_action", sa.String(length=30), nullable=False),
        sa.Column("parameters", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["edition_id"], ["edition.id"], name=op.f("fk_rule_edition_id_edition")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rule")),
    )
    with op.batch_alter_table("rule", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rule_edition_id"), ["edition_id"], unique=False)


def downgrade() -> None:
    op.drop_table("rule")
    op.drop_table("entry")
    op.drop_table("edition")
    op.drop_table("signing_key")
    op.drop_table("sign_in_session")
    op.drop_table("race_class")
    op.drop_table("event")
    op.drop_table("competitor")
    op.drop_table("throttle")
    op.drop_table("series")
    op.drop_table("person")
    op.drop_table("log_entry")
    op.drop_table("engine")
