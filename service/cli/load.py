"""`forelamp load`: bulk loads of every kind, with progress; what was refused is said with its reason."""

import csv
import io
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, BinaryIO, Final

import typer

from dashboards.exports.csv_file import guarded
from ingest import compression
from ingest.aliases import AliasTable
from ingest.batch import Refusal
from ingest.errors import IngestError
from ingest.formats import iter_snapshots
from ingest.parameters import STATES
from service.cli.opened import Opened, opened
from service.cli.talk import AsJson, Bar, give, give_json, progress, say
from service.web.loading import kind_for, load_rows

app = typer.Typer(help="Load files. The same file twice changes nothing.", no_args_is_help=True)

CHUNK_BYTES: Final = 1 << 20
MOST_BYTES: Final = 64 << 30
"""Largest file, unpacked; a shell's owner is trusted with more than a request's body."""

SHOWN: Final = 20
"""Refusals written out one by one; all of them go into --refused."""

_KINDS: Final = {
    ".json": "json", ".ndjson": "ndjson", ".jsonl": "ndjson", ".csv": "csv", ".parquet": "parquet",
    ".toml": "toml",
}  # fmt: skip
_PACKINGS: Final = {".gz": "gzip", ".zst": "zstd"}

Files = Annotated[list[Path], typer.Argument(help="Files; .gz and .zst are unpacked.", metavar="FILE...")]
Kind = Annotated[str, typer.Option("--kind", help="Read as csv, json, ndjson, parquet or toml, not by name.")]
RefusedTo = Annotated[
    Path | None,
    typer.Option("--refused", help="Write what was refused to this CSV file, to mend and send again."),
]


@dataclass(slots=True, kw_only=True)
class Outcome:
    """What became of one file."""

    file: str
    counts: Counter[str] = field(default_factory=Counter)
    refused: list[Refusal] = field(default_factory=list)
    warnings: list[Refusal] = field(default_factory=list)
    notes: Counter[str] = field(default_factory=Counter)
    unknown: Counter[str] = field(default_factory=Counter)
    unknown_means: str = "kept, not trended until an alias explains it"
    states: Counter[str] = field(default_factory=Counter)


@app.command("vehicles")
def load_vehicles(files: Files, as_json: AsJson = False, kind: Kind = "", refused: RefusedTo = None) -> None:
    """Register vehicles or bring them up to date (CSV or JSON)."""
    _load_records(files, kind, "vehicles", as_json, refused)


@app.command("specs")
def load_specs(files: Files, as_json: AsJson = False, kind: Kind = "", refused: RefusedTo = None) -> None:
    """Put spec sheets in force at once and for the whole history (JSON or TOML)."""
    _load_records(files, kind, "specs", as_json, refused)


@app.command("aliases")
def load_aliases(files: Files, as_json: AsJson = False, kind: Kind = "", refused: RefusedTo = None) -> None:
    """Name parameters as devices, sheets or the fleet name them (CSV or JSON)."""
    _load_records(files, kind, "aliases", as_json, refused)


@app.command("work")
def load_work(files: Files, as_json: AsJson = False, kind: Kind = "", refused: RefusedTo = None) -> None:
    """Keep work records and complaints (CSV or JSON)."""
    _load_records(files, kind, "work", as_json, refused)


@app.command("costs")
def load_costs(files: Files, as_json: AsJson = False, kind: Kind = "", refused: RefusedTo = None) -> None:
    """Keep what each cause costs, planned and unplanned (CSV or JSON); earlier revisions stay."""
    _load_records(files, kind, "costs", as_json, refused)


@app.command("snapshots")
def load_snapshots(
    files: Files,
    vehicle: Annotated[str, typer.Option("--vehicle", help="Vehicle of files that name none.")] = "",
    device: Annotated[str, typer.Option("--device", help="Device of snapshots that name none.")] = "",
    as_json: AsJson = False,
    kind: Kind = "",
    refused: RefusedTo = None,
) -> None:
    """Load snapshots (NDJSON, JSON, CSV or Parquet)."""
    outcomes = []
    with opened() as found:
        for path in files:
            outcomes.append(_load_snapshot_file(found, path, kind, vehicle=vehicle, device=device))
    _finish(outcomes, as_json, refused)


def _load_snapshot_file(found: Opened, path: Path, kind: str, *, vehicle: str, device: str) -> Outcome:
    outcome = Outcome(file=str(path))
    how, packing = kind_of(path, kind)
    with found.store.begin(readonly=True) as work:
        table = AliasTable.from_rows(work.aliases(), work.sheets())
        sheet_of = dict(work.sheet_of())
    now = found.clock.now()
    try:
        with _open(path) as source, progress(path.name, path.stat().st_size) as bar:
            arrivals = iter_snapshots(
                _unpacked(source, packing, bar),
                kind=how,
                now_us=int(now.timestamp() * 1e6),
                aliases=table,
                vehicle=vehicle,
                device=device,
                sheet_of=sheet_of,
            )
            for arrival in arrivals:
                with found.store.begin() as work:
                    receipt = work.add_arrival(arrival, received_at=now, source=path.name)
                    work.commit()
                outcome.counts.update(accepted=receipt.accepted, duplicates=receipt.duplicates)
                outcome.counts.update(quarantined=len(receipt.quarantined), rejected=len(receipt.rejected))
                outcome.counts["personal_fields_dropped"] += arrival.personal_fields
                outcome.states.update(_states(arrival.batch.state.tolist()))
                outcome.refused += [*receipt.quarantined, *receipt.rejected]
                outcome.notes.update(arrival.notes)
                outcome.unknown.update(arrival.unknown_names)
    except IngestError as err:
        outcome.refused.append(Refusal(index=-1, code=err.code, detail=str(err)))
        outcome.counts["rejected"] += 1
    return outcome


def _states(numbers: list[int]) -> Counter[str]:
    counted = Counter(numbers)
    return Counter(
        {STATES[place] if place >= 0 else "none": count for place, count in sorted(counted.items())}
    )


def kind_of(path: Path, kind: str) -> tuple[str, str]:
    """Tell how to read a file, by its name unless it is said.

    Returns
    -------
    tuple of (str, str)
        Kind and packing; packing is empty for a plain file.

    Raises
    ------
    typer.BadParameter
        Neither says it.
    """
    endings = [ending.lower() for ending in path.suffixes]
    packing = _PACKINGS.get(endings[-1], "") if endings else ""
    named = endings[-2:-1] if packing else endings[-1:]
    found = kind or (_KINDS.get(named[0], "") if named else "")
    if found not in _KINDS.values():
        raise typer.BadParameter(
            f"{path.name}: cannot tell how to read it; name it .csv, .json, .ndjson, .parquet, .toml or "
            f"say --kind with one of {', '.join(sorted(set(_KINDS.values())))}."
        )
    return found, packing


def _open(path: Path) -> BinaryIO:
    try:
        return path.open("rb")
    except OSError as err:
        raise typer.BadParameter(f"{path}: cannot be opened: {err.strerror}.") from err


def _unpacked(source: BinaryIO, packing: str, bar: Bar) -> Iterator[bytes]:
    def chunks() -> Iterator[bytes]:
        done = 0
        while chunk := source.read(CHUNK_BYTES):
            done += len(chunk)
            bar(done)
            yield chunk

    return compression.inflate_stream(chunks(), packing or "identity", limit=MOST_BYTES)


def _load_records(files: Sequence[Path], kind: str, name: str, as_json: bool, refused: Path | None) -> None:
    outcomes = []
    with opened() as found:
        for path in files:
            outcome = Outcome(
                file=str(path), unknown_means="kept where there is room for it, without meaning here"
            )
            outcomes.append(outcome)
            how, packing = kind_of(path, kind)
            with _open(path) as source:
                packed = source.read()
            try:
                body = compression.inflate(packed, packing or "identity", limit=MOST_BYTES)
                read = kind_for(name, found.settings)
                done = load_rows(found.store, read, body, how, now=found.clock.now(), who="command line")
            except IngestError as err:
                outcome.refused.append(Refusal(index=-1, code=err.code, detail=str(err)))
                continue
            outcome.counts.update(done.counts)
            outcome.refused += done.refused
            outcome.warnings += done.warnings
            outcome.unknown.update(done.unknown)
        again = _read_again(found)
    if again and outcomes:
        outcomes[-1].counts["stored_snapshots_read_again"] = again
    _finish(outcomes, as_json, refused)


def _read_again(found: Opened) -> int:
    """Read stored snapshots again where a name has got a meaning."""
    with found.store.begin(readonly=True) as work:
        if not work.wants_reread():
            return 0
        total = work.extras_count()
    with progress("stored snapshots", total) as bar:
        return found.store.reread_all(found.clock.now(), told=bar)


def _finish(outcomes: Sequence[Outcome], as_json: bool, refused: Path | None) -> None:
    """Print the result and leave with the exit status it deserves."""
    if refused is not None:
        refused.write_text(_refused_csv(outcomes), encoding="utf-8")
    if as_json:
        give_json({"files": [_as_dict(outcome) for outcome in outcomes]})
    else:
        for outcome in outcomes:
            _print(outcome)
    if any(outcome.refused for outcome in outcomes):
        raise typer.Exit(1)


def _as_dict(outcome: Outcome) -> dict[str, Any]:
    return {
        "file": outcome.file,
        **outcome.counts,
        **({"states": dict(outcome.states)} if outcome.states else {}),
        "refused": [
            {"index": one.index, "code": one.code, "field": one.field, "detail": one.detail}
            for one in outcome.refused
        ],
        "warnings": [
            {"index": one.index, "code": one.code, "detail": one.detail} for one in outcome.warnings
        ],
        "notes": dict(outcome.notes),
        "unknown_names": dict(outcome.unknown),
    }


def _print(outcome: Outcome) -> None:
    counts = ", ".join(
        f"{count:,} {name.replace('_', ' ')}" for name, count in outcome.counts.items() if count
    )
    give(f"{outcome.file}: {counts or 'nothing new'}")
    if outcome.states:
        shown = ", ".join(f"{name} {count:,}" for name, count in outcome.states.most_common())
        give(f"  operating states: {shown}")
    for code, count in sorted(outcome.notes.items()):
        say(f"  note {code}: {count:,}")
    for name, count in outcome.unknown.most_common(SHOWN):
        say(f"  unknown name {name!r}: {count:,} times; {outcome.unknown_means}")
    for one in [*outcome.warnings][:SHOWN]:
        say(f"  warning, row {one.index + 1}: {one.detail} [{one.code}]")
    for one in outcome.refused[:SHOWN]:
        where = "whole file" if one.index < 0 else f"row {one.index + 1}"
        say(f"  refused, {where}: {one.detail} [{one.code}]")
    if len(outcome.refused) > SHOWN:
        by_code = Counter(one.code for one in outcome.refused)
        say(f"  refused in all: {', '.join(f'{count:,} {code}' for code, count in by_code.most_common())}")


def _refused_csv(outcomes: Sequence[Outcome]) -> str:
    out = io.StringIO()
    rows = csv.writer(out)
    rows.writerow(["file", "row", "code", "field", "detail", "item"])
    for outcome in outcomes:
        for one in outcome.refused:
            row = "" if one.index < 0 else one.index + 1
            texts = (one.field, one.detail, one.payload)
            rows.writerow([guarded(outcome.file), row, one.code, *(guarded(text) for text in texts)])
    return out.getvalue()
