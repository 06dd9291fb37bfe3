"""Make room for what integrators do on pages: off-road days, devices, uploads, drafts, names, erasures."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

# Repeated here on purpose: a step of the past must not change with the code of today.
WORDS: Final = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Apply the step."""
    op.add_column("vehicle", sa.Column("out_of_service_on", sa.Integer(), nullable=True))
    op.add_column("refusal", sa.Column("discarded_at", sa.BigInteger(), nullable=True))
    op.add_column("sheet", sa.Column("approved_at", sa.BigInteger(), nullable=True))
    op.add_column("token", sa.Column("seen_at", sa.BigInteger(), nullable=True))
    op.add_column("token", sa.Column("clock_offset_s", sa.Double(), nullable=True))
    _about_vehicles()
    _about_names()
    _about_files()


def _number() -> sa.Column[int]:
    return sa.Column("number", sa.Integer(), autoincrement=True, nullable=False)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, WORDS, server_default="", nullable=False)


def _time(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger(), nullable=nullable)


def _about_vehicles() -> None:
    op.create_table(
        "off_road",
        _number(),
        sa.Column("vehicle_no", sa.Integer(), nullable=False),
        sa.Column("from_day", sa.Integer(), nullable=False),
        sa.Column("to_day", sa.Integer(), nullable=True),
        _text("reason"),
        _text("put_by"),
        _time("put_at"),
        sa.ForeignKeyConstraint(
            ["vehicle_no"], ["vehicle.vehicle_no"], name=op.f("fk_off_road_vehicle_no_vehicle")
        ),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_off_road")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_off_road_vehicle_no"), "off_road", ["vehicle_no"])
    op.create_table(
        "device_link",
        _number(),
        sa.Column("device", WORDS, nullable=False),
        sa.Column("vehicle_no", sa.Integer(), nullable=False),
        sa.Column("from_day", sa.Integer(), nullable=False),
        sa.Column("to_day", sa.Integer(), nullable=True),
        _text("put_by"),
        _time("put_at"),
        sa.ForeignKeyConstraint(
            ["vehicle_no"], ["vehicle.vehicle_no"], name=op.f("fk_device_link_vehicle_no_vehicle")
        ),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_device_link")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_device_link_device"), "device_link", ["device"])
    op.create_index(op.f("ix_device_link_vehicle_no"), "device_link", ["vehicle_no"])


def _about_names() -> None:
    op.create_table(
        "unknown_sample",
        sa.Column("name", WORDS, nullable=False),
        _text("device"),
        _text("sample"),
        sa.PrimaryKeyConstraint("name", "device", name=op.f("pk_unknown_sample")),
    )
    op.create_table(
        "ignored_name",
        sa.Column("name", WORDS, nullable=False),
        _text("put_by"),
        _time("put_at"),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_ignored_name")),
    )
    op.create_table(
        "rereading",
        _number(),
        _text("put_by"),
        _time("put_at"),
        sa.Column("after", sa.LargeBinary(length=16), nullable=False),
        sa.Column("seen", sa.BigInteger(), nullable=False),
        sa.Column("changed", sa.BigInteger(), nullable=False),
        _time("finished_at", nullable=True),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_rereading")),
        sqlite_autoincrement=True,
    )


def _about_files() -> None:
    op.create_table(
        "upload",
        _number(),
        sa.Column("kind", WORDS, nullable=False),
        sa.Column("format", WORDS, nullable=False),
        _text("file"),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        _text("put_by"),
        _time("put_at"),
        _time("loaded_at", nullable=True),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_upload")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "erasure",
        _number(),
        _time("at"),
        _text("put_by"),
        sa.Column("rows", WORDS, nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_erasure")),
        sqlite_autoincrement=True,
    )
