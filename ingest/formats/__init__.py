"""Snapshot files and bodies: JSON, NDJSON, CSV and Parquet, all read into the same columns."""

from ingest.formats.read import KINDS, iter_snapshots, read_snapshots

__all__ = ["KINDS", "iter_snapshots", "read_snapshots"]
