"""The Monday digest: a week's frozen report as a short text, the point in the subject line.

No remote pictures, no VIN, no free text that people typed.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from html import escape
from typing import Any, Final

from service.schedule.notices import Notice, notices, read_events
from service.tickets.problem import told_problem
from service.tickets.ticket import PRIORITY_WORDS
from service.tickets.words import counted, date_words, number, quantity, state_words, with_unit

TOP: Final = 10
"""Tickets that the digest lists."""

CHANGES_SHOWN: Final = 15
"""Changes that the digest lists; the rest is counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Digest:
    """One week's digest.

    Parameters
    ----------
    week : str
        ISO week, `2031-W37`.
    subject : str
        One line that carries the point.
    text, html : str
        The same message twice.
    """

    week: str
    subject: str
    text: str
    html: str


def make_digest(report: Mapping[str, Any], *, workshop_hours: float | None = None, link: str = "") -> Digest:
    """Write the digest of a frozen report.

    Parameters
    ----------
    report : mapping
        As `weekly.build` made it.
    workshop_hours : float or None
        Hours that the workshop has this week [h]; None where not given.
    link : str
        Address of the week's page; empty leaves the link out.
    """
    sections = [
        ("", [*_stale(report), first_sentence(report, workshop_hours=workshop_hours)]),
        ("To come in", _coming(report)),
        ("Changed since last week", _changes(report)),
        ("Silent", [", ".join(report["coverage"]["silent"])] if report["coverage"]["silent"] else []),
        ("Shared shifts", [_event(one) for one in notices(read_events(report["events"]))]),
        ("", [link] if link else []),
    ]
    subject = _subject(report, workshop_hours)
    return Digest(
        week=str(report["week"]), subject=subject, text=_text(sections), html=_html(subject, sections)
    )


def first_sentence(report: Mapping[str, Any], *, workshop_hours: float | None = None) -> str:
    """Say how the fleet stands in one sentence."""
    counts = report["counts"]
    coming = counts["pull_in_now"] + counts["plan_this_week"]
    judged = counts["in_service"] - counts["cannot_say"]
    if judged == 0 and counts["in_service"]:
        head = f"Whether a vehicle needs pulling in cannot be said. 0 of {counts['in_service']} judged"
    elif coming == 0:
        head = f"No vehicle needs pulling in. {judged} of {counts['in_service']} judged"
    else:
        verb = "vehicle should" if coming == 1 else "vehicles should"
        head = f"{coming} {verb} come in this week ({_hours(report, workshop_hours)})"
    return (
        f"{head}; {counts['watch']} to watch; {len(report['past_due'])} tickets past due; "
        f"{counts['cannot_say']} of {counts['in_service']} in service cannot be judged."
    )


def _subject(report: Mapping[str, Any], workshop_hours: float | None) -> str:
    counts = report["counts"]
    coming = counts["pull_in_now"] + counts["plan_this_week"]
    number = int(str(report["week"]).rpartition("W")[2])
    hours = f" ({_hours(report, workshop_hours)})" if coming else ""
    return (
        f"Week {number}: {coming} to pull in{hours}, {len(report['past_due'])} past due, "
        f"{counts['cannot_say']} cannot be judged"
    )


def _hours(report: Mapping[str, Any], workshop_hours: float | None) -> str:
    needed = f"{report['needed_hours']:.1f}"
    return f"{needed} h" if workshop_hours is None else f"{needed} of {workshop_hours:g} h"


def _stale(report: Mapping[str, Any]) -> list[str]:
    if not report["stale_days"]:
        return []
    as_of = date_words(date.fromisoformat(report["as_of"]))
    return [
        f"The newest evaluation is of {as_of}, {report['stale_days']} days before this report's: "
        "the figures are as old."
    ]


def _coming(report: Mapping[str, Any]) -> list[str]:
    rows = report["coming"]
    lines = [
        f"{row['vehicle']} ({PRIORITY_WORDS[row['priority']]}, {_due(row['due_by'])}): "
        f"{told_problem(row.get('symptom', ''), row['cause'])}. "
        f"First: {row['first_check'] or 'see the ticket'}"
        + (f" ({row['minutes']} min)." if row["minutes"] else ".")
        for row in rows[:TOP]
    ]
    return [*lines, f"... and {len(rows) - TOP} more."] if len(rows) > TOP else lines


def _due(on: str | None) -> str:
    return f"due {date_words(date.fromisoformat(on))}" if on else "no day set"


def _changes(report: Mapping[str, Any]) -> list[str]:
    if report["first_week"]:
        return ["This is the first report: nothing to compare with."]
    rows = report["changes"]
    if not rows:
        return ["Nothing changed."]
    lines = [
        f"{row['vehicle']}: {PRIORITY_WORDS.get(row['before'], 'not in service')} -> "
        f"{PRIORITY_WORDS.get(row['after'], 'not in service')} ({row['reason'].replace('_', ' ')})"
        for row in rows[:CHANGES_SHOWN]
    ]
    more = len(rows) - CHANGES_SHOWN
    return [*lines, f"... and {more} more."] if more > 0 else lines


def _event(notice: Notice) -> str:
    moved = "; ".join(
        f"{quantity(one.series)} {state_words(one.series.rpartition('@')[2])} by "
        + with_unit(number(one.shift, one.unit, difference=True, signed=True), one.unit)
        for one in notice.events
    )
    where = "the fleet" if notice.scope == "fleet" else notice.scope
    return (
        f"{date_words(notice.on)}, {where}: {counted(notice.vehicles, 'vehicle')} moved together, {moved}. "
        "No ticket each; limits were still checked."
    )


def _text(sections: list[tuple[str, list[str]]]) -> str:
    blocks = []
    for title, lines in sections:
        if lines:
            listed = [f"- {line}" for line in lines] if title else lines
            blocks.append("\n".join([f"{title}:", *listed] if title else listed))
    return "\n\n".join(blocks) + "\n"


def _html(subject: str, sections: list[tuple[str, list[str]]]) -> str:
    parts = []
    for title, lines in sections:
        if lines and title:
            items = "".join(f"<li>{escape(line)}</li>" for line in lines)
            parts.append(f"<h2>{escape(title)}</h2><ul>{items}</ul>")
        else:
            parts.extend(f"<p>{escape(line)}</p>" for line in lines)
    head = f'<meta charset="utf-8"><title>{escape(subject)}</title>'
    return f'<!doctype html><html lang="en"><head>{head}</head><body>{"".join(parts)}</body></html>\n'
