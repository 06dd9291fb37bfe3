"""Lay the first tables."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

# Repeated here on purpose: a step of the past must not change with the code of today.
WORDS: Final = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Apply the step."""
    op.create_table(
        "alias",
        sa.Column("scope", WORDS, nullable=False),
        sa.Column("scope_id", WORDS, server_default="", nullable=False),
        sa.Column("name", WORDS, nullable=False),
        sa.Column("parameter", WORDS, nullable=False),
        sa.Column("unit", WORDS, server_default="", nullable=False),
        sa.Column("put_by", WORDS, server_default="", nullable=False),
        sa.Column("put_at", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("scope", "scope_id", "name", name=op.f("pk_alias")),
    )
    op.create_table(
        "assessment",
        sa.Column("day", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("method", WORDS, nullable=False),
        sa.Column("made_at", sa.BigInteger(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("day", name=op.f("pk_assessment")),
    )
    op.create_table(
        "cost",
        sa.Column("cause", WORDS, nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("planned_hours", sa.Double(), nullable=False),
        sa.Column("unplanned_hours", sa.Double(), nullable=False),
        sa.Column("planned_parts", sa.Double(), nullable=False),
        sa.Column("unplanned_parts", sa.Double(), nullable=False),
        sa.Column("downtime", sa.Double(), nullable=False),
        sa.Column("currency", WORDS, nullable=False),
        sa.Column("price_date", sa.Integer(), nullable=False),
        sa.Column("source", WORDS, server_default="", nullable=False),
        sa.Column("put_by", WORDS, server_default="", nullable=False),
        sa.Column("put_at", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("cause", "revision", name=op.f("pk_cost")),
    )
    op.create_table(
        "daily",
        sa.Column("vehicle_no", sa.Integer(), nullable=False),
        sa.Column("day", sa.Integer(), nullable=False),
        sa.Column("state", sa.SmallInteger(), nullable=False),
        sa.Column("readings", sa.Integer(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("vehicle_no", "day", "state", name=op.f("pk_daily")),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "event",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("who", WORDS, nullable=False),
        sa.Column("what", WORDS, nullable=False),
        sa.Column("subject", WORDS, server_default="", nullable=False),
        sa.Column("before", WORDS, server_default="", nullable=False),
        sa.Column("after", WORDS, server_default="", nullable=False),
        sa.Column("source", WORDS, server_default="", nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_event")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_event_subject"), "event", ["subject"], unique=False)
    op.create_table(
        "person",
        sa.Column("login", WORDS, nullable=False),
        sa.Column("role", WORDS, nullable=False),
        sa.Column("password", WORDS, nullable=False),
        sa.Column("created_at", sa.BigInteger(), nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("locked_until", sa.BigInteger(), nullable=True),
        sa.Column("disabled_at", sa.BigInteger(), nullable=True),
        sa.Column("preferences", WORDS, nullable=False),
        sa.PrimaryKeyConstraint("login", name=op.f("pk_person")),
    )
    op.create_table(
        "post",
        sa.Column("post", WORDS, nullable=False),
        sa.Column("owner", WORDS, nullable=False),
        sa.Column("until_us", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("post", name=op.f("pk_post")),
    )
    op.create_table(
        "preference",
        sa.Column("name", WORDS, nullable=False),
        sa.Column("value", WORDS, nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_preference")),
    )
    op.create_table(
        "refusal",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("kind", WORDS, nullable=False),
        sa.Column("code", WORDS, nullable=False),
        sa.Column("detail", WORDS, server_default="", nullable=False),
        sa.Column("field", WORDS, server_default="", nullable=False),
        sa.Column("vehicle", WORDS, server_default="", nullable=False),
        sa.Column("payload", WORDS, server_default="", nullable=False),
        sa.Column("source", WORDS, server_default="", nullable=False),
        sa.Column("received_at", sa.BigInteger(), nullable=False),
        sa.Column("released_at", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_refusal")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_refusal_kind_code"), "refusal", ["kind", "code"], unique=False)
    op.create_table(
        "report",
        sa.Column("week", WORDS, nullable=False),
        sa.Column("body", WORDS, nullable=False),
        sa.Column("frozen_at", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("week", name=op.f("pk_report")),
    )
    op.create_table(
        "run",
        sa.Column("job", WORDS, nullable=False),
        sa.Column("due_us", sa.BigInteger(), nullable=False),
        sa.Column("owner", WORDS, nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("started_at", sa.BigInteger(), nullable=False),
        sa.Column("beat_us", sa.BigInteger(), nullable=False),
        sa.Column("finished_at", sa.BigInteger(), nullable=True),
        sa.Column("outcome", WORDS, server_default="", nullable=False),
        sa.Column("counts", WORDS, server_default="", nullable=False),
        sa.Column("error", WORDS, server_default="", nullable=False),
        sa.PrimaryKeyConstraint("job", "due_us", name=op.f("pk_run")),
    )
    op.create_table(
        "sheet",
        sa.Column("sheet", WORDS, nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("body", WORDS, nullable=False),
        sa.Column("standing", WORDS, nullable=False),
        sa.Column("in_force_from", sa.Integer(), nullable=True),
        sa.Column("put_by", WORDS, server_default="", nullable=False),
        sa.Column("approved_by", WORDS, server_default="", nullable=False),
        sa.Column("put_at", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("sheet", "revision", name=op.f("pk_sheet")),
    )
    op.create_table(
        "snapshot",
        sa.Column("identity", sa.LargeBinary(length=16), nullable=False),
        sa.Column("content", sa.BigInteger(), nullable=False),
        sa.Column("vehicle_no", sa.Integer(), nullable=False),
        sa.Column("taken_us", sa.BigInteger(), nullable=False),
        sa.Column("received_us", sa.BigInteger(), nullable=False),
        sa.Column("day", sa.Integer(), nullable=False),
        sa.Column("claim", sa.SmallInteger(), nullable=False),
        sa.Column("state", sa.SmallInteger(), nullable=False),
        sa.Column("switch_ac", sa.SmallInteger(), nullable=False),
        sa.Column("switch_power_steering", sa.SmallInteger(), nullable=False),
        sa.Column("switch_in_gear", sa.SmallInteger(), nullable=False),
        sa.Column("odometer_km", sa.Double(), nullable=True),
        sa.Column("longft1", sa.Double(), nullable=True),
        sa.Column("longft2", sa.Double(), nullable=True),
        sa.Column("shrtft1", sa.Double(), nullable=True),
        sa.Column("shrtft2", sa.Double(), nullable=True),
        sa.Column("rpm", sa.Double(), nullable=True),
        sa.Column("vss", sa.Double(), nullable=True),
        sa.Column("ect", sa.Double(), nullable=True),
        sa.Column("iat", sa.Double(), nullable=True),
        sa.Column("aat", sa.Double(), nullable=True),
        sa.Column("map", sa.Double(), nullable=True),
        sa.Column("baro", sa.Double(), nullable=True),
        sa.Column("maf", sa.Double(), nullable=True),
        sa.Column("tp", sa.Double(), nullable=True),
        sa.Column("tac_pct", sa.Double(), nullable=True),
        sa.Column("load_pct", sa.Double(), nullable=True),
        sa.Column("load_abs", sa.Double(), nullable=True),
        sa.Column("sparkadv", sa.Double(), nullable=True),
        sa.Column("vpwr", sa.Double(), nullable=True),
        sa.Column("o2s11", sa.Double(), nullable=True),
        sa.Column("o2s12", sa.Double(), nullable=True),
        sa.Column("o2s21", sa.Double(), nullable=True),
        sa.Column("o2s22", sa.Double(), nullable=True),
        sa.Column("lambda1", sa.Double(), nullable=True),
        sa.Column("fuelsys1", sa.Double(), nullable=True),
        sa.Column("runtm", sa.Double(), nullable=True),
        sa.Column("clr_dist", sa.Double(), nullable=True),
        sa.Column("warm_ups", sa.Double(), nullable=True),
        sa.Column("fli", sa.Double(), nullable=True),
        sa.Column("alch_pct", sa.Double(), nullable=True),
        sa.Column("iac", sa.Double(), nullable=True),
        sa.Column("iac_counts", sa.Double(), nullable=True),
        sa.Column("inj_pw", sa.Double(), nullable=True),
        sa.Column("knock_retard", sa.Double(), nullable=True),
        sa.Column("cam_sync", sa.Double(), nullable=True),
        sa.Column("crank_sync", sa.Double(), nullable=True),
        sa.Column("crank_vmin", sa.Double(), nullable=True),
        sa.Column("device", WORDS, server_default="", nullable=False),
        sa.Column("given_id", WORDS, server_default="", nullable=False),
        sa.Column("state_note", WORDS, server_default="", nullable=False),
        sa.Column("extra", WORDS, nullable=True),
        sa.PrimaryKeyConstraint("identity", name=op.f("pk_snapshot")),
    )
    op.create_index(
        op.f("ix_snapshot_vehicle_no_taken_us"), "snapshot", ["vehicle_no", "taken_us"], unique=False
    )
    op.create_table(
        "ticket",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("ticket", WORDS, nullable=False),
        sa.Column("vehicle", WORDS, nullable=False),
        sa.Column("depot", WORDS, server_default="", nullable=False),
        sa.Column("spec_sheet", WORDS, server_default="", nullable=False),
        sa.Column("status", WORDS, nullable=False),
        sa.Column("raised_at", sa.BigInteger(), nullable=False),
        sa.Column("updated_at", sa.BigInteger(), nullable=False),
        sa.Column("closed_at", sa.BigInteger(), nullable=True),
        sa.Column("parameter", WORDS, server_default="", nullable=False),
        sa.Column("state", WORDS, server_default="", nullable=False),
        sa.Column("direction", WORDS, server_default="", nullable=False),
        sa.Column("value", sa.Double(), nullable=True),
        sa.Column("baseline", sa.Double(), nullable=True),
        sa.Column("limit_low", sa.Double(), nullable=True),
        sa.Column("limit_high", sa.Double(), nullable=True),
        sa.Column("drift_per_week", sa.Double(), nullable=True),
        sa.Column("reaches_limit_on", sa.Integer(), nullable=True),
        sa.Column("reaches_limit_low", sa.Integer(), nullable=True),
        sa.Column("reaches_limit_high", sa.Integer(), nullable=True),
        sa.Column("probability_30d", sa.Double(), nullable=True),
        sa.Column("priority", WORDS, nullable=False),
        sa.Column("cause_1", WORDS, server_default="", nullable=False),
        sa.Column("cause_1_p", sa.Double(), nullable=True),
        sa.Column("cause_2", WORDS, server_default="", nullable=False),
        sa.Column("cause_2_p", sa.Double(), nullable=True),
        sa.Column("cause_3", WORDS, server_default="", nullable=False),
        sa.Column("cause_3_p", sa.Double(), nullable=True),
        sa.Column("evidence", WORDS, server_default="", nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_ticket")),
        sa.UniqueConstraint("ticket", name=op.f("uq_ticket_ticket")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_ticket_status"), "ticket", ["status"], unique=False)
    op.create_index(op.f("ix_ticket_vehicle"), "ticket", ["vehicle"], unique=False)
    op.create_table(
        "token",
        sa.Column("digest", WORDS, nullable=False),
        sa.Column("name", WORDS, nullable=False),
        sa.Column("prefix", WORDS, nullable=False),
        sa.Column("scopes", WORDS, nullable=False),
        sa.Column("vehicles", WORDS, nullable=False),
        sa.Column("created_at", sa.BigInteger(), nullable=False),
        sa.Column("expires_at", sa.BigInteger(), nullable=True),
        sa.Column("revoked_at", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_token")),
        sa.UniqueConstraint("name", name=op.f("uq_token_name")),
    )
    op.create_table(
        "touched",
        sa.Column("vehicle_no", sa.Integer(), nullable=False),
        sa.Column("day", sa.Integer(), nullable=False),
    )
    op.create_index(op.f("ix_touched_vehicle_no_day"), "touched", ["vehicle_no", "day"], unique=False)
    op.create_table(
        "trend",
        sa.Column("day", sa.Integer(), nullable=False),
        sa.Column("vehicle", WORDS, nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("day", "vehicle", name=op.f("pk_trend")),
    )
    op.create_table(
        "unknown_name",
        sa.Column("source", WORDS, nullable=False),
        sa.Column("name", WORDS, nullable=False),
        sa.Column("count", sa.BigInteger(), nullable=False),
        sa.Column("first_at", sa.BigInteger(), nullable=False),
        sa.Column("last_at", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("source", "name", name=op.f("pk_unknown_name")),
    )
    op.create_table(
        "vehicle",
        sa.Column("vehicle_no", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("vehicle", WORDS, nullable=False),
        sa.Column("vin", WORDS, server_default="", nullable=False),
        sa.Column("spec_sheet", WORDS, server_default="", nullable=False),
        sa.Column("depot", WORDS, server_default="", nullable=False),
        sa.Column("time_zone", WORDS, server_default="", nullable=False),
        sa.Column("zone", WORDS, nullable=False),
        sa.Column("in_service_on", sa.Integer(), nullable=True),
        sa.Column("odometer_km", sa.Double(), nullable=True),
        sa.Column("notes", WORDS, server_default="", nullable=False),
        sa.Column("created_at", sa.BigInteger(), nullable=False),
        sa.Column("changed_at", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("vehicle_no", name=op.f("pk_vehicle")),
        sa.UniqueConstraint("vehicle", name=op.f("uq_vehicle_vehicle")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "sign_in",
        sa.Column("digest", WORDS, nullable=False),
        sa.Column("login", WORDS, nullable=False),
        sa.Column("created_at", sa.BigInteger(), nullable=False),
        sa.Column("expires_at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["login"], ["person.login"], name=op.f("fk_sign_in_login_person")),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_sign_in")),
    )
    op.create_index(op.f("ix_sign_in_login"), "sign_in", ["login"], unique=False)
    op.create_table(
        "ticket_event",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("ticket", WORDS, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("event", WORDS, nullable=False),
        sa.Column("role", WORDS, nullable=False),
        sa.Column("by", WORDS, nullable=False),
        sa.Column("status_before", WORDS, server_default="", nullable=False),
        sa.Column("status_after", WORDS, server_default="", nullable=False),
        sa.Column("note", WORDS, server_default="", nullable=False),
        sa.Column("facts", WORDS, nullable=False),
        sa.ForeignKeyConstraint(["ticket"], ["ticket.ticket"], name=op.f("fk_ticket_event_ticket_ticket")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_ticket_event")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_ticket_event_ticket_number"), "ticket_event", ["ticket", "number"], unique=False)
    op.create_table(
        "ticket_version",
        sa.Column("ticket", WORDS, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["ticket"], ["ticket.ticket"], name=op.f("fk_ticket_version_ticket_ticket")),
        sa.PrimaryKeyConstraint("ticket", "version", name=op.f("pk_ticket_version")),
    )
    op.create_table(
        "vehicle_device",
        sa.Column("vehicle_no", sa.Integer(), nullable=False),
        sa.Column("device", WORDS, nullable=False),
        sa.Column("first_us", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["vehicle_no"], ["vehicle.vehicle_no"], name=op.f("fk_vehicle_device_vehicle_no_vehicle")
        ),
        sa.PrimaryKeyConstraint("vehicle_no", "device", name=op.f("pk_vehicle_device")),
    )
    op.create_table(
        "vehicle_place",
        sa.Column("vehicle_no", sa.Integer(), nullable=False),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("depot", WORDS, server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["vehicle_no"], ["vehicle.vehicle_no"], name=op.f("fk_vehicle_place_vehicle_no_vehicle")
        ),
        sa.PrimaryKeyConstraint("vehicle_no", "from_us", name=op.f("pk_vehicle_place")),
    )
    op.create_table(
        "work_record",
        sa.Column("identity", sa.LargeBinary(length=16), nullable=False),
        sa.Column("vehicle_no", sa.Integer(), nullable=False),
        sa.Column("done_us", sa.BigInteger(), nullable=False),
        sa.Column("day", sa.Integer(), nullable=False),
        sa.Column("kind", WORDS, nullable=False),
        sa.Column("cause", WORDS, server_default="", nullable=False),
        sa.Column("ticket", WORDS, server_default="", nullable=False),
        sa.Column("parts_cost", sa.Double(), nullable=True),
        sa.Column("labour_hours", sa.Double(), nullable=True),
        sa.Column("notes", WORDS, server_default="", nullable=False),
        sa.Column("recorded_at", sa.BigInteger(), nullable=False),
        sa.Column("recorded_by", WORDS, server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["vehicle_no"], ["vehicle.vehicle_no"], name=op.f("fk_work_record_vehicle_no_vehicle")
        ),
        sa.PrimaryKeyConstraint("identity", name=op.f("pk_work_record")),
    )
    op.create_index(op.f("ix_work_record_ticket"), "work_record", ["ticket"], unique=False)
    op.create_index(
        op.f("ix_work_record_vehicle_no_done_us"), "work_record", ["vehicle_no", "done_us"], unique=False
    )
