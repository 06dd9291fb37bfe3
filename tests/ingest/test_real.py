"""Real snapshots of one car load whole through an alias table."""

from pathlib import Path

import numpy as np

from ingest.aliases import AliasTable, read_aliases
from ingest.batch import Arrival
from ingest.formats import read_snapshots
from ingest.parameters import COLUMN, STATES
from ingest.sheets import read_sheets

DATA = Path(__file__).parent.parent / "data"
NOW = 1_600_000_000 * 1_000_000
COUNT = 1869


def load() -> Arrival:
    """Load the real file with its aliases."""
    rows = read_aliases((DATA / "real_aliases.csv").read_bytes(), "csv")
    assert rows.rejected == ()
    return read_snapshots(
        (DATA / "real_snapshots.csv").read_bytes(),
        kind="csv",
        now_us=NOW,
        aliases=AliasTable.from_rows(rows.rows),
        vehicle="REAL-1",
        sheet_of={"REAL-1": "REAL-CAR"},
    )


def test_every_row_is_accepted() -> None:
    """All snapshots are believed; only the two pedal columns stay unknown."""
    arrival = load()

    assert (len(arrival.batch), arrival.rejected, arrival.quarantined) == (COUNT, (), ())
    assert arrival.personal_fields == 0
    assert arrival.unknown_names == {
        "Accelerator Pedal Position D [%]": COUNT,
        "Accelerator Pedal Position E [%]": COUNT,
    }


def test_values_stand_in_their_columns() -> None:
    """The first row's values are where their parameters are."""
    values = load().batch.values

    for code, value in {
        "ECT": 30,
        "MAP": 99,
        "RPM": 936,
        "VSS": 3,
        "IAT": 30,
        "MAF": 10.44,
        "TP": 83.1,
        "AAT": 21,
    }.items():
        assert values[0, COLUMN[code]] == value
    assert np.isnan(values[:, COLUMN["LONGFT1"]]).all()


def test_states_are_those_of_a_driven_car() -> None:
    """The car cruises most, idles warm and, after a night, cold; slow driving and turning have no state."""
    arrival = load()

    found = {name: int(np.sum(arrival.batch.state == place)) for place, name in enumerate(STATES)}
    assert found["cruise"] > 500
    assert found["warm_idle"] > 60
    assert found["cold_idle"] > 60
    assert found["koeo"] > found["koeo_soak"] > 0
    assert sum(found.values()) + int(np.sum(arrival.batch.state == -1)) == COUNT


def test_warm_idle_airflow_is_the_published_one() -> None:
    """At 750 to 800/min and 80 degC or more this car draws about 7.00 g/s, as in the whole data set."""
    batch = load().batch
    rpm, ect, maf = (batch.values[:, COLUMN[code]] for code in ("RPM", "ECT", "MAF"))
    rows = (batch.state == STATES.index("warm_idle")) & (rpm >= 750) & (rpm <= 800) & (ect >= 80)

    assert abs(np.median(maf[rows]) - 7.0) < 0.15


def test_sheet_sets_no_limits() -> None:
    """The car's sheet says what the data set says and no more."""
    loaded = read_sheets((DATA / "real_sheet.json").read_bytes(), "json")

    (sheet,) = loaded.rows
    assert sheet.limits == ()
    assert sheet.displacement_l is None
    assert sheet.fuel == "diesel"
    assert sheet.further == {"idles_unthrottled": True}
