"""The cost table in the store: revisions, as-of, one currency."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from ingest.records import CostLine
from service.store import Store

NOW = datetime(2031, 3, 4, 12, tzinfo=UTC)
LINE = CostLine(
    cause="throttle_deposits",
    planned_hours=0.8,
    unplanned_hours=2.5,
    planned_parts=9.0,
    unplanned_parts=9.0,
    downtime=150.0,
    currency="EUR",
    price_date=date(2031, 1, 1),
    labour_rate=91.0,
)


def test_revisions(store: Store) -> None:
    """The same lines again change nothing; what one load changes is one new revision; old ones stay."""
    other = replace(LINE, cause="unknown")
    with store.begin() as work:
        assert work.put_costs([LINE, other], NOW, who="a").added == 2
        assert work.put_costs([LINE, other], NOW).same == 2
        later = NOW + timedelta(days=1)
        assert work.put_costs([replace(other, downtime=1.0)], later, who="b").changed == 1
        work.commit()
        kept = {cost.cause: cost for cost in work.costs()}
        before = {cost.cause: cost for cost in work.costs(as_of=NOW)}
        history = work.cost_revisions()

    assert {cause: cost.revision for cause, cost in kept.items()} == {"throttle_deposits": 1, "unknown": 2}
    assert (kept["unknown"].downtime, before["unknown"].downtime) == (1.0, 150.0)
    assert kept["throttle_deposits"].labour_rate == 91.0
    assert [(one.revision, one.causes, one.put_by, one.put_at) for one in history] == [
        (2, 1, "b", NOW + timedelta(days=1)),
        (1, 2, "a", NOW),
    ]


def test_known_by_then(store: Store) -> None:
    """Before the first load there was no table."""
    with store.begin() as work:
        work.put_costs([LINE], NOW)

        assert work.costs(as_of=NOW - timedelta(seconds=1)) == ()
        assert len(work.costs(as_of=NOW)) == 1


def test_one_currency(store: Store) -> None:
    """A line in another currency than the rest is refused, unless every line comes anew."""
    with store.begin() as work:
        work.put_costs([LINE], NOW)
        other = replace(LINE, cause="unknown", currency="NOK")

        assert [one.code for one in work.put_costs([other], NOW).refused] == ["mixed-currency"]
        whole = [replace(LINE, currency="NOK"), other]
        assert work.put_costs(whole, NOW).refused == ()
        assert {cost.currency for cost in work.costs()} == {"NOK"}
