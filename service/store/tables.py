"""The tables. Hot ones hold times as int64 microseconds, the rest as `UtcDateTime`; days are local days."""

from typing import Any, Final

from sqlalchemy import (
    BigInteger,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    SmallInteger,
    Table,
)

from ingest.parameters import CODES, SWITCHES
from service.store.columns import WORDS, RowNumber, UtcDateTime

METADATA: Final = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _text(name: str) -> Column[Any]:
    return Column(name, WORDS, nullable=False, server_default="")


def _number() -> Column[Any]:
    return Column("number", RowNumber, primary_key=True, autoincrement=True)


def _time(name: str, *, nullable: bool = False) -> Column[Any]:
    return Column(name, UtcDateTime, nullable=nullable)


def _vehicle() -> Column[Any]:
    return Column("vehicle_no", Integer, ForeignKey("vehicle.vehicle_no"), nullable=False)


VEHICLE: Final = Table(
    "vehicle",
    METADATA,
    # The inner number is never used again; the fleet's own number is only a name.
    Column("vehicle_no", Integer, primary_key=True, autoincrement=True),
    Column("vehicle", WORDS, nullable=False, unique=True),
    _text("vin"),
    _text("spec_sheet"),
    _text("depot"),
    _text("time_zone"),
    Column("zone", WORDS, nullable=False),
    Column("in_service_on", Integer),
    Column("odometer_km", Double),
    _text("notes"),
    _time("created_at"),
    _time("changed_at"),
    # First local day out of service for good; no part of the exchanged row.
    Column("out_of_service_on", Integer),
    # First local day whose readings retention has left; what lies before is neither taken in nor folded anew.
    Column("kept_from_day", Integer),
    sqlite_autoincrement=True,
)

HOLD: Final = Table(
    "hold",
    METADATA,
    _number(),
    _vehicle(),
    Column("reason", WORDS, nullable=False),
    _text("put_by"),
    _time("put_at"),
    _text("lifted_by"),
    _time("lifted_at", nullable=True),
    Index(None, "vehicle_no"),
    sqlite_autoincrement=True,
)
"""Vehicles of which nothing may be removed, and why."""

REMOVAL: Final = Table(
    "removal",
    METADATA,
    _number(),
    _time("at"),
    _text("put_by"),
    # Class of what went (`readings`, `trends`, `tickets`), and the table that it was in.
    Column("kind", WORDS, nullable=False),
    Column("part", WORDS, nullable=False),
    Column("from_day", Integer, nullable=False),
    Column("to_day", Integer, nullable=False),
    Column("vehicles", Integer, nullable=False),
    Column("rows", BigInteger, nullable=False),
    sqlite_autoincrement=True,
)
"""What retention has removed, as counts only."""

OFF_ROAD: Final = Table(
    "off_road",
    METADATA,
    _number(),
    _vehicle(),
    Column("from_day", Integer, nullable=False),
    Column("to_day", Integer),
    _text("reason"),
    _text("put_by"),
    _time("put_at"),
    Index(None, "vehicle_no"),
    sqlite_autoincrement=True,
)

VEHICLE_PLACE: Final = Table(
    "vehicle_place",
    METADATA,
    _vehicle(),
    Column("from_us", BigInteger, nullable=False),
    _text("depot"),
    PrimaryKeyConstraint("vehicle_no", "from_us"),
)

VEHICLE_DEVICE: Final = Table(
    "vehicle_device",
    METADATA,
    _vehicle(),
    Column("device", WORDS, nullable=False),
    Column("first_us", BigInteger, nullable=False),
    PrimaryKeyConstraint("vehicle_no", "device"),
)

DEVICE_LINK: Final = Table(
    "device_link",
    METADATA,
    _number(),
    Column("device", WORDS, nullable=False),
    _vehicle(),
    Column("from_day", Integer, nullable=False),
    Column("to_day", Integer),
    _text("put_by"),
    _time("put_at"),
    Index(None, "device"),
    Index(None, "vehicle_no"),
    sqlite_autoincrement=True,
)
"""Which device sits in which vehicle, as a person says it; `vehicle_device` is what readings say."""

PARAMETER_COLUMNS: Final = tuple(code.lower() for code in CODES)
SWITCH_COLUMNS: Final = tuple(f"switch_{name}" for name in SWITCHES)

SNAPSHOT: Final = Table(
    "snapshot",
    METADATA,
    Column("identity", LargeBinary(16), primary_key=True),
    Column("content", BigInteger, nullable=False),
    # Fixed-width columns first, texts last: the binary writer and reader rely on this order.
    # No foreign key here and in `daily`: checking it row by row costs as much as the insert, the store
    # itself looks each vehicle up, and vehicles are never removed without their rows.
    Column("vehicle_no", Integer, nullable=False),
    Column("taken_us", BigInteger, nullable=False),
    Column("received_us", BigInteger, nullable=False),
    Column("day", Integer, nullable=False),
    Column("claim", SmallInteger, nullable=False),
    Column("state", SmallInteger, nullable=False),
    *(Column(name, SmallInteger, nullable=False) for name in SWITCH_COLUMNS),
    Column("odometer_km", Double),
    *(Column(name, Double) for name in PARAMETER_COLUMNS),
    _text("device"),
    _text("given_id"),
    _text("state_note"),
    Column("extra", WORDS),
    Index(None, "vehicle_no", "taken_us"),
)
"""One wide row a snapshot. No running number: handing one back would slow batches more than tenfold."""

TOUCHED: Final = Table(
    "touched",
    METADATA,
    # No key on purpose: two writers that mark the same day must not wait for each other.
    Column("vehicle_no", Integer, nullable=False),
    Column("day", Integer, nullable=False),
    Index(None, "vehicle_no", "day"),
)

DAILY: Final = Table(
    "daily",
    METADATA,
    Column("vehicle_no", Integer, nullable=False),
    Column("day", Integer, nullable=False),
    Column("state", SmallInteger, nullable=False),
    Column("readings", Integer, nullable=False),
    # One little-endian float64 for each parameter and switch share, in stored order: a whole fleet's
    # history loads five times faster than from one column each, and can always be folded anew.
    Column("body", LargeBinary, nullable=False),
    PrimaryKeyConstraint("vehicle_no", "day", "state"),
    sqlite_with_rowid=False,
)

REFUSAL: Final = Table(
    "refusal",
    METADATA,
    _number(),
    Column("kind", WORDS, nullable=False),
    Column("code", WORDS, nullable=False),
    _text("detail"),
    _text("field"),
    _text("vehicle"),
    _text("payload"),
    _text("source"),
    _time("received_at"),
    _time("released_at", nullable=True),
    _time("discarded_at", nullable=True),
    Index(None, "kind", "code"),
    sqlite_autoincrement=True,
)

UNKNOWN_NAME: Final = Table(
    "unknown_name",
    METADATA,
    Column("source", WORDS, nullable=False),
    Column("name", WORDS, nullable=False),
    Column("count", BigInteger, nullable=False),
    _time("first_at"),
    _time("last_at"),
    PrimaryKeyConstraint("source", "name"),
)

UNKNOWN_SAMPLE: Final = Table(
    "unknown_sample",
    METADATA,
    Column("name", WORDS, nullable=False),
    _text("device"),
    _text("sample"),
    PrimaryKeyConstraint("name", "device"),
)
"""One value of each unknown name from each device, as it came."""

IGNORED_NAME: Final = Table(
    "ignored_name",
    METADATA,
    Column("name", WORDS, primary_key=True),
    _text("put_by"),
    _time("put_at"),
)

REREADING: Final = Table(
    "rereading",
    METADATA,
    _number(),
    _text("put_by"),
    _time("put_at"),
    # How far it has come: identity of the last snapshot looked at; empty at the start.
    Column("after", LargeBinary(16), nullable=False),
    Column("seen", BigInteger, nullable=False),
    Column("changed", BigInteger, nullable=False),
    _time("finished_at", nullable=True),
    Column("unconverted", BigInteger, nullable=False, server_default="0"),
    sqlite_autoincrement=True,
)

UPLOAD: Final = Table(
    "upload",
    METADATA,
    _number(),
    Column("kind", WORDS, nullable=False),
    Column("format", WORDS, nullable=False),
    _text("file"),
    Column("body", LargeBinary, nullable=False),
    _text("put_by"),
    _time("put_at"),
    _time("loaded_at", nullable=True),
    sqlite_autoincrement=True,
)
"""Files that somebody looks at before loading them; taken out after a day."""

ERASURE: Final = Table(
    "erasure",
    METADATA,
    _number(),
    _time("at"),
    _text("put_by"),
    # Rows that were erased, as a JSON object by name of the table.
    Column("rows", WORDS, nullable=False),
    sqlite_autoincrement=True,
)
"""What was erased, as counts only."""

SHEET: Final = Table(
    "sheet",
    METADATA,
    Column("sheet", WORDS, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("body", WORDS, nullable=False),
    Column("standing", WORDS, nullable=False),
    Column("in_force_from", Integer),
    _text("put_by"),
    _text("approved_by"),
    _time("put_at"),
    _time("approved_at", nullable=True),
    PrimaryKeyConstraint("sheet", "revision"),
)

ALIAS: Final = Table(
    "alias",
    METADATA,
    Column("scope", WORDS, nullable=False),
    _text("scope_id"),
    Column("name", WORDS, nullable=False),
    Column("parameter", WORDS, nullable=False),
    _text("unit"),
    _text("put_by"),
    _time("put_at"),
    PrimaryKeyConstraint("scope", "scope_id", "name"),
)

WORK_RECORD: Final = Table(
    "work_record",
    METADATA,
    Column("identity", LargeBinary(16), primary_key=True),
    _vehicle(),
    Column("done_us", BigInteger, nullable=False),
    Column("day", Integer, nullable=False),
    Column("kind", WORDS, nullable=False),
    _text("cause"),
    _text("ticket"),
    Column("parts_cost", Double),
    Column("labour_hours", Double),
    _text("notes"),
    Column("odometer_km", Double),
    Column("relearn_done", SmallInteger),
    _text("parts"),
    _time("recorded_at"),
    _text("recorded_by"),
    Index(None, "vehicle_no", "done_us"),
    Index(None, "ticket"),
)

TICKET: Final = Table(
    "ticket",
    METADATA,
    _number(),
    Column("ticket", WORDS, nullable=False, unique=True),
    Column("vehicle", WORDS, nullable=False),
    _text("depot"),
    _text("spec_sheet"),
    Column("status", WORDS, nullable=False),
    _time("raised_at"),
    _time("updated_at"),
    _time("closed_at", nullable=True),
    _text("parameter"),
    _text("state"),
    _text("direction"),
    Column("value", Double),
    Column("baseline", Double),
    Column("limit_low", Double),
    Column("limit_high", Double),
    Column("drift_per_week", Double),
    Column("reaches_limit_on", Integer),
    Column("reaches_limit_low", Integer),
    Column("reaches_limit_high", Integer),
    Column("probability_30d", Double),
    Column("priority", WORDS, nullable=False),
    _text("cause_1"),
    Column("cause_1_p", Double),
    _text("cause_2"),
    Column("cause_2_p", Double),
    _text("cause_3"),
    Column("cause_3_p", Double),
    _text("evidence"),
    # The whole ticket; the columns above repeat its exported part for whoever reads the table itself.
    Column("body", LargeBinary, nullable=False),
    Column("version", Integer, nullable=False),
    Index(None, "vehicle"),
    Index(None, "status"),
    sqlite_autoincrement=True,
)

TICKET_VERSION: Final = Table(
    "ticket_version",
    METADATA,
    Column("ticket", WORDS, ForeignKey("ticket.ticket"), nullable=False),
    Column("version", Integer, nullable=False),
    Column("at_us", BigInteger, nullable=False),
    Column("body", LargeBinary, nullable=False),
    PrimaryKeyConstraint("ticket", "version"),
)

TICKET_EVENT: Final = Table(
    "ticket_event",
    METADATA,
    _number(),
    Column("ticket", WORDS, ForeignKey("ticket.ticket"), nullable=False),
    Column("version", Integer, nullable=False),
    Column("at_us", BigInteger, nullable=False),
    Column("event", WORDS, nullable=False),
    Column("role", WORDS, nullable=False),
    Column("by", WORDS, nullable=False),
    _text("status_before"),
    _text("status_after"),
    _text("note"),
    Column("facts", WORDS, nullable=False),
    Index(None, "ticket", "number"),
    sqlite_autoincrement=True,
)

COST: Final = Table(
    "cost",
    METADATA,
    Column("cause", WORDS, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("planned_hours", Double, nullable=False),
    Column("unplanned_hours", Double, nullable=False),
    Column("planned_parts", Double, nullable=False),
    Column("unplanned_parts", Double, nullable=False),
    Column("downtime", Double, nullable=False),
    Column("labour_rate", Double),
    Column("look_cost", Double),
    Column("currency", WORDS, nullable=False),
    Column("price_date", Integer, nullable=False),
    _text("source"),
    _text("put_by"),
    _time("put_at"),
    PrimaryKeyConstraint("cause", "revision"),
)

ASSESSMENT: Final = Table(
    "assessment",
    METADATA,
    Column("day", Integer, primary_key=True, autoincrement=False),
    Column("method", WORDS, nullable=False),
    _time("made_at"),
    Column("body", LargeBinary, nullable=False),
)

TREND: Final = Table(
    "trend",
    METADATA,
    Column("day", Integer, nullable=False),
    Column("vehicle", WORDS, nullable=False),
    Column("body", LargeBinary, nullable=False),
    PrimaryKeyConstraint("day", "vehicle"),
)

CORRECTED: Final = Table(
    "corrected",
    METADATA,
    Column("vehicle", WORDS, primary_key=True),
    Column("day", Integer, nullable=False),
    Column("body", LargeBinary, nullable=False),
)

REPORT: Final = Table(
    "report",
    METADATA,
    Column("week", WORDS, primary_key=True),
    Column("body", WORDS, nullable=False),
    _time("frozen_at"),
)

RUN: Final = Table(
    "run",
    METADATA,
    Column("job", WORDS, nullable=False),
    Column("due_us", BigInteger, nullable=False),
    Column("owner", WORDS, nullable=False),
    Column("attempt", Integer, nullable=False),
    _time("started_at"),
    Column("beat_us", BigInteger, nullable=False),
    _time("finished_at", nullable=True),
    _text("outcome"),
    _text("counts"),
    _text("error"),
    PrimaryKeyConstraint("job", "due_us"),
)

POST: Final = Table(
    "post",
    METADATA,
    Column("post", WORDS, primary_key=True),
    Column("owner", WORDS, nullable=False),
    Column("until_us", BigInteger, nullable=False),
)

TOKEN: Final = Table(
    "token",
    METADATA,
    Column("digest", WORDS, primary_key=True),
    Column("name", WORDS, nullable=False, unique=True),
    Column("prefix", WORDS, nullable=False),
    Column("scopes", WORDS, nullable=False),
    Column("vehicles", WORDS, nullable=False),
    _time("created_at"),
    _time("expires_at", nullable=True),
    _time("revoked_at", nullable=True),
    _time("seen_at", nullable=True),
    # How far the sender's clock is ahead of ours at its last call; negative where behind.
    Column("clock_offset_s", Double),
)

PERSON: Final = Table(
    "person",
    METADATA,
    Column("login", WORDS, primary_key=True),
    Column("role", WORDS, nullable=False),
    Column("password", WORDS, nullable=False),
    _time("created_at"),
    _time("disabled_at", nullable=True),
    Column("preferences", WORDS, nullable=False),
    _text("depot"),
    Column("depot_only", SmallInteger, nullable=False, server_default="0"),
    _time("password_until", nullable=True),
    # Digest of who it is at the sign-in provider; empty while nobody has come through it.
    _text("subject"),
)

SIGN_IN: Final = Table(
    "sign_in",
    METADATA,
    Column("digest", WORDS, primary_key=True),
    Column("login", WORDS, ForeignKey("person.login"), nullable=False),
    _time("created_at"),
    _time("expires_at"),
    _time("seen_at"),
    # How it was begun: with a `password`, or through the sign-in `provider`.
    Column("way", WORDS, nullable=False, server_default="password"),
    Index(None, "login"),
)

DEPARTURE: Final = Table(
    "departure",
    METADATA,
    Column("digest", WORDS, primary_key=True),
    Column("source", WORDS, nullable=False),
    _time("at"),
    _text("following"),
    _text("action"),
    Column("draft", WORDS, nullable=False, server_default="[]"),
    Index(None, "source"),
    Index(None, "at"),
)

ATTEMPT: Final = Table(
    "attempt",
    METADATA,
    Column("key", WORDS, primary_key=True),
    Column("failures", Integer, nullable=False),
    _time("last_at"),
    _time("locked_until", nullable=True),
)

EVENT: Final = Table(
    "event",
    METADATA,
    _number(),
    _time("at"),
    Column("who", WORDS, nullable=False),
    Column("what", WORDS, nullable=False),
    _text("subject"),
    _text("before"),
    _text("after"),
    _text("source"),
    Index(None, "subject"),
    sqlite_autoincrement=True,
)

PREFERENCE: Final = Table(
    "preference",
    METADATA,
    Column("name", WORDS, primary_key=True),
    Column("value", WORDS, nullable=False),
)

FORM_KEY: Final = Table(
    "form_key",
    METADATA,
    Column("key", WORDS, primary_key=True),
    Column("at_us", BigInteger, nullable=False),
    _text("who"),
    _text("led_to"),
    Index(None, "at_us"),
)
