"""Evidence for a change, held against the same computed the long way."""

from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from ingest.parameters import STATES
from models.causes.table import Directions, directions
from models.compare import compare
from models.evidence.history import History, build_history
from models.evidence.noise import BLOCKS, Noise
from models.evidence.scan import (
    DOUBTED,
    INDIFFERENT,
    INDIFFERENT_TRIM,
    MIN_BEFORE,
    MIN_DAYS,
    ROUGHLY,
    TEMPLATES,
    Evidence,
    invert_present,
    likelihood_ratios,
    weigh,
)
from models.panel import Wish
from models.series import PLACE, SERIES
from tests.models.fleets import BARE, FIRST_DAY, SHEET, Town, observed

Floats = NDArray[np.float64]
TRIM, CRUISE, VOLTS = PLACE["LONGFT1@warm_idle"], PLACE["LONGFT1@cruise"], PLACE["VPWR@warm_idle"]
DAYS = 300
TODAY = FIRST_DAY + DAYS - 1


class Watched(NamedTuple):
    """Readings of one vehicle's trim: days of the history, and values."""

    day: NDArray[np.int64]
    value: Floats


def _watched(seed: int = 0, share: float = 0.7) -> Watched:
    rng = np.random.default_rng(seed)
    day = np.flatnonzero(rng.random(DAYS) < share)
    return Watched(day, rng.normal(0.4, 1.3, len(day)) + 0.01 * np.maximum(day - 200, 0))


def _history(watched: Watched, place: int = TRIM) -> History:
    count = len(watched.day)
    seen = observed(np.zeros(count, np.int64), place, FIRST_DAY + watched.day, watched.value)
    return build_history(seen, watched.value, np.ones(count, bool), vehicles=1, days=(FIRST_DAY, TODAY))


def _noise(sigma: float, inflation: float = 1.0) -> Noise:
    return Noise(
        sigma=np.full((1, len(SERIES)), sigma),
        rounding=np.zeros((1, len(SERIES))),
        pooled=np.full(len(SERIES), sigma),
        inflation=np.full((1, len(SERIES), len(BLOCKS)), inflation),
        correlation=np.eye(len(SERIES)),
    )


def _weigh(
    watched: Watched,
    *,
    sigma: float = 1.3,
    spread: float = 2.0,
    start: int = 0,
    day: int = TODAY,
    inflation: float = 1.0,
    least: tuple[int, int] = (MIN_DAYS, MIN_BEFORE),
    place: int = TRIM,
) -> Evidence:
    return weigh(
        _history(watched, place),
        day=day,
        start=np.full((1, len(SERIES)), FIRST_DAY + start, np.int32),
        noise=_noise(sigma, inflation),
        group=np.zeros(1, np.int32),
        spread=np.full((1, len(SERIES)), spread),
        rows=np.arange(1),
        least=least,
    )


def _log_likelihood(value: Floats, mean: Floats, covariance: Floats) -> float:
    """Log-density of a normal vector, up to the part that the mean does not change."""
    away = value - mean
    return float(-0.5 * away @ np.linalg.solve(covariance, away))


@pytest.mark.parametrize("spread", [0.3, 2.0, 50.0])
@pytest.mark.parametrize("start", [0, 120])
@pytest.mark.parametrize(("lag", "shape"), TEMPLATES)
def test_evidence_equals_the_dense_likelihood_ratio(lag: int, shape: str, start: int, spread: float) -> None:
    """Half of z squared is the best Gaussian log-likelihood ratio under a normal prior on the level."""
    watched, sigma = _watched(), 1.3
    evidence = _weigh(watched, sigma=sigma, spread=spread, start=start)
    place = TEMPLATES.index((lag, shape))

    keep = watched.day >= start
    day, value = watched.day[keep], watched.value[keep]
    age = day - (DAYS - 1 - lag)
    template = np.where(age > 0, age / lag if shape == "ramp" else 1.0, 0.0)
    covariance = sigma**2 * np.eye(len(day)) + spread**2 * np.ones((len(day), len(day)))
    information = float(template @ np.linalg.solve(covariance, template))
    size = float(template @ np.linalg.solve(covariance, value)) / information
    nothing = np.zeros(len(day))
    ratio = _log_likelihood(value, size * template, covariance) - _log_likelihood(value, nothing, covariance)

    if (age <= 0).sum() < MIN_BEFORE:
        assert evidence.z[0, place, TRIM] == 0
        return
    assert evidence.z[0, place, TRIM] ** 2 / 2 == pytest.approx(ratio, abs=1e-8)
    assert evidence.root_information[0, place, TRIM] ** 2 == pytest.approx(information, rel=1e-9)
    assert evidence.z[0, place, TRIM] / evidence.root_information[0, place, TRIM] == pytest.approx(size)


def test_unit_change_leaves_the_evidence() -> None:
    """Readings in another unit give the same z, and information in that unit."""
    watched = _watched()
    one = _weigh(watched)
    other = _weigh(Watched(watched.day, watched.value * 1000), sigma=1300, spread=2000)

    np.testing.assert_allclose(other.z, one.z, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(other.root_information, one.root_information / 1000, rtol=1e-9)


def test_an_unknown_spread_leaves_the_level_free() -> None:
    """Without like vehicles any constant may be added to all readings."""
    watched = _watched()

    np.testing.assert_allclose(
        _weigh(Watched(watched.day, watched.value + 50.0), spread=np.inf).z,
        _weigh(watched, spread=np.inf).z,
        atol=1e-9,
    )


def test_slow_noise_weakens_the_evidence() -> None:
    """Readings of which four are worth one halve every z where the level is free."""
    np.testing.assert_allclose(
        _weigh(_watched(), spread=np.inf, inflation=4.0).z, _weigh(_watched(), spread=np.inf).z / 2
    )


def test_readings_before_the_segment_do_not_count() -> None:
    """What lies before the segment's first day changes nothing."""
    watched = _watched()
    changed = Watched(watched.day, np.where(watched.day < 150, 99.0, watched.value))

    np.testing.assert_allclose(_weigh(changed, start=150).z, _weigh(watched, start=150).z, atol=1e-9)


def test_later_readings_do_not_count() -> None:
    """What is taken after the evaluation day changes nothing."""
    watched = _watched()
    changed = Watched(watched.day, np.where(watched.day > 250, 99.0, watched.value))

    np.testing.assert_allclose(
        _weigh(changed, day=FIRST_DAY + 250).z, _weigh(watched, day=FIRST_DAY + 250).z, atol=1e-9
    )


@pytest.mark.parametrize("count", range(MIN_DAYS + 1))
def test_few_readings_since_the_onset_say_nothing(count: int) -> None:
    """A series speaks only with enough days since the onset: one reading never raises anything."""
    day = np.concatenate((np.arange(100), DAYS - 1 - np.arange(count)[::-1])).astype(np.int64)
    value = np.concatenate((np.zeros(100), np.full(count, 500.0)))

    evidence = _weigh(Watched(day, value))

    assert bool((evidence.z[0, :2, TRIM] != 0).any()) == (count >= MIN_DAYS)


@pytest.mark.parametrize("count", range(MIN_DAYS))
def test_few_readings_speak_where_they_may(count: int) -> None:
    """Asked for as much, a single reading since the onset speaks, and none says nothing."""
    day = np.concatenate((np.arange(100), DAYS - 1 - np.arange(count)[::-1])).astype(np.int64)
    value = np.concatenate((np.zeros(100), np.full(count, 500.0)))

    evidence = _weigh(Watched(day, value), least=(1, 1))

    assert bool((evidence.z[0, :2, TRIM] > 0).any()) == (count > 0)


@pytest.mark.parametrize("count", [0, MIN_BEFORE - 1, MIN_BEFORE])
def test_nothing_before_the_onset_is_no_change(count: int) -> None:
    """Without readings before the onset there is nothing that could have changed."""
    day = np.concatenate((np.arange(count), DAYS - 1 - np.arange(5)[::-1])).astype(np.int64)
    value = np.concatenate((np.zeros(count), np.full(5, 20.0)))

    assert bool(_weigh(Watched(day, value)).z.any()) == (count >= MIN_BEFORE)


def test_silence_says_nothing() -> None:
    """A series without readings has neither evidence nor information."""
    evidence = _weigh(Watched(np.empty(0, np.int64), np.empty(0)))

    assert not evidence.z.any()
    assert not evidence.root_information.any()


def _directions(*rows: dict[int, float], single: bool = False) -> Directions:
    shift = np.zeros((len(rows), len(SERIES)))
    for number, row in enumerate(rows):
        for place, size in row.items():
            shift[number, place] = size
    return Directions(
        shift=shift,
        cause=np.zeros(len(rows), np.int64),
        reported=np.zeros(shift.shape, dtype=bool),
        single=np.full(len(rows), single, dtype=bool),
        excuse=np.zeros((1, len(SERIES))),
        witness=np.zeros((1, len(SERIES))),
        excused=np.zeros((1, len(rows)), dtype=bool),
    )


def _told(**z: float) -> Evidence:
    """Make evidence of one vehicle and one template with information 1 on the named series."""
    places = {"trim": TRIM, "cruise": CRUISE, "volts": VOLTS}
    table = Evidence(z=np.zeros((1, 1, len(SERIES))), root_information=np.zeros((1, 1, len(SERIES))))
    for name, value in z.items():
        table.z[0, 0, places[name]] = value
        table.root_information[0, 0, places[name]] = 1.0
    return table


def _ratio(evidence: Evidence, table: Directions, correlation: Floats | None = None) -> float:
    correlation = np.eye(len(SERIES)) if correlation is None else correlation
    return float(likelihood_ratios(evidence, table, correlation, np.zeros((1, 2), np.int64))[0, 0])


def test_series_of_one_fault_add_up() -> None:
    """Two independent series along one direction have the sum of their ratios, less the indifferent size."""
    found = _ratio(_told(trim=5.0, cruise=5.0), _directions({TRIM: 10.0, CRUISE: 10.0}))

    along, power = 100.0, 200.0
    assert found == pytest.approx((along / power**0.5 - INDIFFERENT_TRIM * power**0.5) ** 2 / 2)


def test_trims_may_wander_further() -> None:
    """The same estimate of a voltage, which wanders less, counts for more."""
    volts = _ratio(_told(volts=5.0), _directions({VOLTS: 10.0}, single=True))
    trim = _ratio(_told(trim=5.0), _directions({TRIM: 10.0}, single=True))

    assert volts == pytest.approx((5.0 - INDIFFERENT * 10.0) ** 2 / 2)
    assert trim == pytest.approx((5.0 - INDIFFERENT_TRIM * 10.0) ** 2 / 2)


def test_the_other_way_is_no_evidence() -> None:
    """Data that point against a direction give it nothing, joint or single."""
    evidence = _told(trim=-5.0, cruise=-5.0)

    assert _ratio(evidence, _directions({TRIM: 10.0, CRUISE: 10.0})) == 0
    assert _ratio(evidence, _directions({TRIM: 10.0}, single=True)) == 0
    assert _ratio(evidence, _directions({TRIM: -10.0}, single=True)) > 0


def test_correlated_series_are_not_worth_their_count() -> None:
    """Two series that always move together tell less than two that do not."""
    correlation = np.eye(len(SERIES))
    correlation[TRIM, CRUISE] = correlation[CRUISE, TRIM] = 0.8
    evidence, table = _told(trim=5.0, cruise=5.0), _directions({TRIM: 10.0, CRUISE: 10.0})

    assert _ratio(evidence, table, correlation) < _ratio(evidence, table)


def test_correlation_cannot_stand_in_for_what_was_seen() -> None:
    """A joint direction never counts more than its series together, whatever correlation predicts."""
    correlation = np.eye(len(SERIES))
    correlation[TRIM, CRUISE] = correlation[CRUISE, TRIM] = 0.95
    evidence = _told(trim=1.0, cruise=-3.0)

    assert _ratio(evidence, _directions({TRIM: 10.0}), correlation) <= 1.0**2 / 2


def test_a_direction_nobody_reports_has_no_evidence() -> None:
    """A direction whose series are all silent has a ratio of zero."""
    assert _ratio(_told(volts=9.0), _directions({TRIM: 10.0, CRUISE: 10.0})) == 0


def test_a_nuisance_takes_off_what_it_explains() -> None:
    """What a nuisance explains of a direction that it excuses is taken off, for either sign; else nothing."""
    table = _directions({TRIM: 10.0}, {VOLTS: 10.0})
    table.excuse[0, [TRIM, CRUISE]] = 10.0
    table.witness[0, CRUISE] = 10.0
    table.excused[0, 0] = True
    alone, together = _told(trim=6.0, cruise=0.0), _told(trim=6.0, cruise=6.0)
    down = _told(trim=6.0, cruise=-6.0, volts=6.0)

    assert _ratio(together, table) < _ratio(alone, table)
    assert _ratio(together, table) == 0
    pair = np.zeros((1, 2), np.int64)
    found = likelihood_ratios(down, table, np.eye(len(SERIES)), pair)[0]
    assert (found > 10).all()


def test_only_present_series_are_inverted() -> None:
    """The inverse over the present series is theirs alone, zero elsewhere."""
    matrix = np.array([[1.0, 0.5, 0.2], [0.5, 1.0, 0.1], [0.2, 0.1, 1.0]])
    present = np.array([True, False, True])

    inverse = invert_present(matrix, present)

    product = inverse[np.ix_(present, present)] @ matrix[np.ix_(present, present)]
    np.testing.assert_allclose(product, np.eye(2), atol=1e-12)
    assert not inverse[1].any()


def test_every_direction_of_a_sheet_has_a_ratio() -> None:
    """Ratios of a real table are finite and never negative."""
    table = directions(SHEET)
    evidence = Evidence(
        z=np.random.default_rng(0).normal(0, 3, (2, 3, len(SERIES))),
        root_information=np.full((2, 3, len(SERIES)), 0.5),
    )
    pairs = np.argwhere(np.ones((2, 3), bool))

    ratio = likelihood_ratios(evidence, table, np.eye(len(SERIES)), pairs)

    assert ratio.shape == (6, len(table.shift))
    assert np.isfinite(ratio).all()
    assert (ratio >= 0).all()


def test_a_slow_drift_over_thirty_weeks_is_found() -> None:
    """Half a per cent a week for thirty weeks is found: the baseline does not creep."""
    town = Town(16, 240, sheet=BARE)
    town.drift("LONGFT1", "warm_idle", 3, onset=30, per_week=0.5)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert [(item.vehicle, item.tier) for item in said.findings] == [("V-0003", "ticket")]
    lead = said.findings[0].lead
    assert (lead.series, lead.direction) == ("LONGFT1@warm_idle", "up")
    assert lead.level - lead.baseline > 8


@pytest.mark.parametrize("size", [8.0, 40.0, -99.0])
@pytest.mark.parametrize("ago", [0, 1, 5])
def test_one_wild_reading_raises_nothing(size: float, ago: int) -> None:
    """One wild day, however far off, raises nothing, in no series."""
    town = Town(16, 120)
    for code, state in (("LONGFT1", "warm_idle"), ("LONGFT1", "cruise"), ("IAC", "warm_idle")):
        town.at(code, state)[3, -1 - ago] += size

    assert compare(town.fleet(), town.daily(), town.last_day, Wish()).findings == ()


def test_a_change_too_small_to_bother_anyone_raises_nothing() -> None:
    """However certain, a change of a twentieth of what drivers notice is not worth a finding."""
    channels = (("LONGFT1", "warm_idle", 1.0, 0.4), ("LONGFT1", "cruise", 1.0, 0.4))
    town = Town(16, 300, channels=channels, sheet=BARE)
    town.drift("LONGFT1", "warm_idle", 3, onset=100, per_week=0.6 / 28)

    assert compare(town.fleet(), town.daily(), town.last_day, Wish()).findings == ()


@pytest.mark.parametrize("state", [*(state for state in STATES if state not in ("warm_idle", "cruise")), ""])
def test_trims_in_a_wrong_state_or_open_loop_raise_nothing(state: str) -> None:
    """Fifteen per cent of trim in another state, or in none as open loop has, enters no trim series."""
    town = Town(12, 120)
    town.at("LONGFT1", state or "koeo")[3, 60:] = 15.0
    daily = town.daily()
    if not state:
        daily.state[daily.state == STATES.index("koeo")] = -1

    assert compare(town.fleet(), daily, town.last_day, Wish()).findings == ()


@pytest.mark.parametrize("share", [0.15, 0.7])
def test_single_measurements_are_judged_by_students_law(share: float) -> None:
    """The same readings say less as a voltage than as a learned trim, by as much as Student's law has it.

    Reference: scipy.stats.t. Evidence is the logarithm of its density at 0 over that at z; its exponent is
    half of the window's readings and those that the long-run scatter is worth.
    """
    watched = _watched(share=share)
    trim, volts = _weigh(watched), _weigh(watched, place=VOLTS)

    for place, (lag, _) in enumerate(TEMPLATES):
        plain, found = trim.z[0, place, TRIM], volts.z[0, place, VOLTS]
        most, far = DOUBTED
        freedom = min((watched.day > DAYS - 1 - lag).sum(), most) + ROUGHLY
        law = stats.t(freedom - 1, scale=np.sqrt(freedom / (freedom - 1)))

        told = min(abs(plain), far)
        student = law.logpdf(0.0) - law.logpdf(told)

        assert found**2 / 2 == pytest.approx(student * (plain / max(told, 1e-9)) ** 2, abs=1e-6)
        if plain:
            size = plain / trim.root_information[0, place, TRIM]
            assert found / volts.root_information[0, place, VOLTS] == pytest.approx(size)
