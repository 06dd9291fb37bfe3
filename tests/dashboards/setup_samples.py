"""Made-up views of the setup's pages."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Final

from dashboards.render import View
from dashboards.setup.devices import (
    DeviceLine,
    Issued,
    SetupDevicesView,
    TokenLine,
    TypedToken,
)
from dashboards.setup.home import Area, SetupView, Task
from dashboards.setup.names import AliasLine, NameLine, SetupNamesView, Typed
from dashboards.setup.parts import Again, Fault
from dashboards.setup.retention import HoldLine, KeptClass, PortionLine, RemovalLine, SetupRetentionView
from dashboards.setup.sheets import (
    Field,
    GapGroup,
    GapRow,
    LimitLine,
    Preview,
    RevisionLine,
    SetupSheetsView,
    SetupSheetView,
    Shift,
)
from dashboards.setup.uploads import RefusedRow, Tally, UploadView
from dashboards.setup.vehicles import Away, FleetLine, SetupVehiclesView, SetupVehicleView, VehicleForm

NOW: Final = datetime(2031, 9, 8, 2, 0, tzinfo=UTC)
DAY: Final = date(2031, 9, 8)
FAULTS: Final = (Fault(field="vehicle", text="V-0017 is registered already."),)


def home() -> SetupView:
    """Make the setup's home with tasks."""
    return SetupView(
        registered=412,
        tasks=(
            Task(kind="without_sheet", count=7, examples=("V-0003", "V-0090"), href="/setup/vehicles"),
            Task(kind="names", count=1, examples=("Oil life",), href="/setup/names"),
        ),
        areas=(
            Area(code="vehicles", href="/setup/vehicles", holds="412 registered"),
            Area(code="load", href="/setup/load", holds=""),
        ),
    )


def vehicles() -> SetupVehiclesView:
    """Make the integrator's list of vehicles."""
    return SetupVehiclesView(
        rows=(
            FleetLine(
                vehicle="V-0017",
                sheet="HARROW-24",
                sheet_known=True,
                depot="Quayside",
                standing="in_service",
                since=None,
                last_reading_on=DAY,
            ),
            FleetLine(
                vehicle="V-0018",
                sheet="HARROW-99",
                sheet_known=False,
                depot="",
                standing="off_road",
                since=DAY,
                last_reading_on=None,
            ),
        ),
        total=2,
        registered=412,
        query="V-001",
        previous="/setup/vehicles",
        following="/setup/vehicles?first=101",
    )


def vehicle(*, known: bool = True) -> SetupVehicleView:
    """Make one vehicle's form."""
    return SetupVehicleView(
        known=known,
        form=VehicleForm(vehicle="V-0017", vin="11111111211111111", spec_sheet="HARROW-99", depot="Quayside"),
        errors=FAULTS,
        vin_doubt="Position 9 of the VIN is 2 but its other characters give 1: check for a typing error.",
        sheets=("HARROW-24",),
        depots=("Quayside",),
        sheet_known=False,
        off_road=(
            Away(number=3, since=DAY, until=None, reason="waits for a gearbox", put_by="ann"),
            Away(number=2, since=DAY, until=DAY, reason="", put_by="ann"),
        ),
        gone_since=None,
        open_tickets=1,
        devices=("L-220 sent the newest reading",),
        today="2031-09-08",
        may_erase=True,
    )


def sheets() -> SetupSheetsView:
    """Make the list of sheets."""
    return SetupSheetsView(
        revisions=(
            RevisionLine(
                sheet="HARROW-24",
                revision=3,
                source="shop manual p. 6-12",
                standing="draft",
                since=None,
                put_by="ann",
                approved_by="",
                alone=False,
                limits=2,
                vehicles=40,
            ),
            RevisionLine(
                sheet="HARROW-24",
                revision=2,
                source="shop manual p. 6-12",
                standing="in_force",
                since=DAY,
                put_by="ben",
                approved_by="ben",
                alone=True,
                limits=2,
                vehicles=40,
            ),
        ),
        states=("koeo_soak", "warm_idle"),
        gaps=(
            GapGroup(
                sheet="",
                vehicles=("V-0003",),
                total=2,
                missing=1,
                rows=(GapRow(parameter="VPWR", cells=("gap", "given")),),
            ),
            GapGroup(
                sheet="HARROW-24",
                vehicles=("V-0017",),
                total=1,
                missing=0,
                rows=(GapRow(parameter="LONGFT1", cells=("none", "given")),),
            ),
        ),
        missing=2,
        text='{"sheet": "HARROW-24"}',
        errors=(Fault(field="text", text="revision is required: a whole number from 0."),),
    )


def sheet() -> SetupSheetView:
    """Make one draft with what it would change."""
    limit = LimitLine(
        parameter="LONGFT1",
        state="warm_idle",
        low=-5.0,
        high=5.0,
        unit="%",
        low_now=-8.0,
        high_now=8.0,
        changed=True,
    )
    return SetupSheetView(
        sheet="HARROW-24",
        revision=3,
        source="shop manual p. 6-12",
        standing="draft",
        since=None,
        put_by="ann",
        put_at=NOW,
        approved_by="",
        alone=False,
        fields=(Field(name="Fuel", text="gasoline"),),
        limits=(limit,),
        dropped=(limit,),
        preview=Preview(
            as_of=DAY,
            outside=12,
            inside=5,
            shifts=(
                Shift(
                    vehicle="V-0017",
                    series="LONGFT1@warm_idle",
                    value=6.25,
                    unit="%",
                    low=-5.0,
                    high=5.0,
                    outside=True,
                ),
            ),
            soak_changed=True,
        ),
        may_approve=True,
        hindrance="",
        today="2031-09-08",
        errors=(),
    )


def names() -> SetupNamesView:
    """Make the tray of names."""
    return SetupNamesView(
        unknown=(
            NameLine(
                name="Coolant [degF]",
                unit="degF",
                count=1204,
                samples=("194.0", "196.0"),
                devices=("L-220", "L-221"),
                more_devices=4,
            ),
        ),
        ignored=("Oil life",),
        aliases=(AliasLine(scope="sheet", scope_id="HARROW-24", name="Volts", parameter="VPWR", unit="V"),),
        parameters=("ECT", "VPWR"),
        units=("degF", "V"),
        again=Again(seen=3000, changed=1204, total=9000, finished_at=None),
        typed=Typed(name="Coolant", parameter="ECT", unit="degF"),
        errors=(Fault(field="unit", text="V measures something else than ECT."),),
    )


def devices() -> SetupDevicesView:
    """Make the page of devices just after a token was issued."""
    return SetupDevicesView(
        issued=Issued(
            name="logger-L-221",
            secret="flt_not-a-token",  # noqa: S106 (made up)
            command="curl -s http://127.0.0.1:8377/api/v1/snapshots",
            vehicle="V-0017",
            overlap_until=NOW,
        ),
        tokens=(
            TokenLine(
                name="logger-L-220",
                prefix="flt_abc123",
                scopes=("send",),
                vehicles=("V-0017",),
                seen_at=NOW,
                clock_minutes=-12.0,
                expires_at=NOW,
                ended=False,
            ),
        ),
        devices=(
            DeviceLine(
                device="L-220",
                vehicle="V-0017",
                since=DAY,
                until=None,
                told=False,
                doubt="It is said to be in V-0018",
            ),
        ),
        more=3,
        vehicles=("V-0017",),
        scopes=("send", "read"),
        typed=TypedToken(),
        errors=(Fault(field="name", text="There is a token 'logger-L-221' already."),),
        today="2031-09-08",
    )


def upload() -> UploadView:
    """Make a look at a file."""
    row = RefusedRow(row=15, code="bad-date", field="in_service_on", detail="in_service_on: no such day.")
    return UploadView(
        step="look",
        kind="vehicles",
        number=7,
        file="vehicles.csv",
        tallies=(Tally(code="added", count=40), Tally(code="same", count=2)),
        refused=(row,),
        refused_total=1,
        warnings=(row,),
        unknown=("colour",),
        left_out=2,
        errors=(),
    )


def choose_file() -> UploadView:
    """Make the page on which a file is chosen."""
    return UploadView(
        step="choose",
        kind="vehicles",
        number=0,
        file="",
        tallies=(),
        refused=(),
        refused_total=0,
        warnings=(),
        unknown=(),
        left_out=0,
        errors=(Fault(field="file", text="Choose a file that is not empty."),),
    )


def retention() -> SetupRetentionView:
    """Make the page of what is kept, with something to go and something gone."""
    line = PortionLine(kind="readings", part="snapshot", month=date(2029, 8, 1), rows=12_400, vehicles=60)
    return SetupRetentionView(
        kept=(
            KeptClass(kind="readings", months=25, kept_from=date(2029, 8, 1)),
            KeptClass(kind="trends", months=84, kept_from=date(2024, 9, 1)),
            KeptClass(kind="tickets", months=0, kept_from=None),
        ),
        next_run=NOW,
        only_counts=True,
        counted=True,
        would_go=(line, replace(line, part="assessment", kind="trends", vehicles=0)),
        stays=310,
        holds=(HoldLine(vehicle="V-0017", reason="claim 31-204", put_by="ann", put_at=NOW),),
        vehicles=("V-0017", "V-0018"),
        typed_vehicle="V-0018",
        typed_reason="claim",
        errors=(Fault(field="vehicle", text="V-0018 is on hold already."),),
        removals=(RemovalLine(at=NOW, put_by="schedule", portion=line),),
    )


def pages() -> dict[str, tuple[View, str]]:
    """Give every view of the setup with its title."""
    return {
        "setup": (home(), "Setup"),
        "setup-empty": (SetupView(registered=0, tasks=(), areas=()), "Setup"),
        "setup-vehicles": (vehicles(), "Vehicles: setup"),
        "setup-vehicle": (vehicle(), "V-0017: setup"),
        "setup-vehicle-new": (vehicle(known=False), "Add a vehicle"),
        "setup-sheets": (sheets(), "Spec sheets"),
        "setup-sheet": (sheet(), "HARROW-24 revision 3"),
        "setup-names": (names(), "Names of parameters"),
        "setup-devices": (devices(), "Devices and tokens"),
        "setup-retention": (retention(), "What is kept"),
        "setup-upload": (upload(), "Load a file"),
        "setup-choose": (choose_file(), "Load a file"),
    }
