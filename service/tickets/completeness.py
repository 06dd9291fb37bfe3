"""The machine's check that a ticket has all seven parts it must have."""

from service.tickets.ticket import Detail, Ticket


def missing_parts(ticket: Ticket) -> tuple[str, ...]:
    """Name the parts that a ticket lacks; empty when it is complete.

    Parameters
    ----------
    ticket : Ticket
        Raised by an evaluation. One raised by hand has no evidence until an evaluation speaks of it.
    """
    detail = ticket.detail
    if detail is None:
        return ("detail",)
    return (
        *_sentence_parts(ticket, detail),
        *(["readings"] if not _has_numbers(ticket, detail) else []),
        *(
            ["checks"]
            if not all(c.text and c.minutes > 0 for c in detail.checks) or not detail.checks
            else []
        ),
        *(["cautions"] if not detail.cautions or not all(c.text for c in detail.cautions) else []),
        *(["also_looked_at"] if not detail.also_looked_at else []),
        *(["would_change"] if not detail.would_change else []),
        *(["track_record"] if not detail.track_record.text else []),
        *(["versions"] if not _has_versions(detail) else []),
    )


def _sentence_parts(ticket: Ticket, detail: Detail) -> list[str]:
    sentence = detail.sentence
    lacks = []
    if not sentence or sentence != ticket.evidence:
        lacks.append("sentence")
    if not sentence.startswith(f"{ticket.vehicle}: "):
        lacks.append("sentence: vehicle")
    if "Sheet " not in sentence and "No spec sheet" not in sentence:
        lacks.append("sentence: limits or their absence")
    if "like vehicles" not in sentence:
        lacks.append("sentence: like vehicles")
    return lacks


def _has_numbers(ticket: Ticket, detail: Detail) -> bool:
    if not detail.readings:
        return False
    lead = detail.readings[0]
    return (ticket.value, ticket.baseline, ticket.drift_per_week, ticket.parameter, ticket.state) == (
        lead.level,
        lead.baseline,
        lead.drift_per_week,
        lead.parameter,
        lead.state,
    )


def _has_versions(detail: Detail) -> bool:
    versions = detail.versions
    named = all((versions.rule, versions.method, versions.rules_version))
    return named and (versions.sheet == "") == (versions.revision is None)
