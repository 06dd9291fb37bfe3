"""The five kinds of vehicle: what their sheets say and how big their parts are."""

import json
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

Metering: TypeAlias = Literal["maf", "speed_density"]
IdleControl: TypeAlias = Literal["bypass_valve", "electronic_throttle"]
Charging: TypeAlias = Literal["fixed", "commanded"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """One kind of vehicle.

    Parameters
    ----------
    share : float
        Share of the fleet.
    idle_rpm : float
        Warm idle speed the controller holds [1/min].
    idle_gs, cruise_gs : float
        Air a warm engine breathes, idling without load and at a steady cruise, at sea level [g/s].
    valve_gs, plate_gs : float
        Flow of the wholly open bypass valve, and past the closed plate [g/s].
    set_point_v : float
        Regulated voltage at 25 degC under the bonnet [V].
    alternator_a : float
        What the alternator gives at idle [A].
    thermostat_c : float
        Coolant temperature of the warm engine [degC].
    crank_a, battery_mohm : float
        Starter current of a warm engine at its peak [A]; inner resistance of a fresh battery [mOhm].
    """

    sheet: str
    revision: int
    share: float
    displacement_l: float
    cylinders: int
    banks: int
    air_metering: Metering
    idle_control: IdleControl
    charging: Charging
    idle_rpm: float
    idle_gs: float
    cruise_gs: float
    valve_gs: float
    plate_gs: float
    set_point_v: float
    alternator_a: float
    thermostat_c: float
    crank_a: float
    battery_mohm: float

    @property
    def has_valve(self) -> bool:
        """Whether idle air goes through a bypass valve."""
        return self.idle_control == "bypass_valve"

    @property
    def has_meter(self) -> bool:
        """Whether air is metered, not reckoned from manifold pressure."""
        return self.air_metering == "maf"


BUILDS: Final[tuple[Build, ...]] = (
    Build(
        sheet="QUARRY-16",
        revision=3,
        share=0.27,
        displacement_l=1.6,
        cylinders=4,
        banks=1,
        air_metering="maf",
        idle_control="bypass_valve",
        charging="fixed",
        idle_rpm=760.0,
        idle_gs=2.5,
        cruise_gs=10.5,
        valve_gs=4.4,
        plate_gs=0.95,
        set_point_v=14.25,
        alternator_a=52.0,
        thermostat_c=89.0,
        crank_a=165.0,
        battery_mohm=11.5,
    ),
    Build(
        sheet="LARKEN-20",
        revision=1,
        share=0.22,
        displacement_l=2.0,
        cylinders=4,
        banks=1,
        air_metering="speed_density",
        idle_control="bypass_valve",
        charging="fixed",
        idle_rpm=720.0,
        idle_gs=2.9,
        cruise_gs=12.5,
        valve_gs=5.4,
        plate_gs=1.0,
        set_point_v=14.1,
        alternator_a=58.0,
        thermostat_c=92.0,
        crank_a=180.0,
        battery_mohm=10.5,
    ),
    Build(
        sheet="MORROW-30V",
        revision=4,
        share=0.2,
        displacement_l=3.0,
        cylinders=6,
        banks=2,
        air_metering="maf",
        idle_control="electronic_throttle",
        charging="commanded",
        idle_rpm=650.0,
        idle_gs=4.1,
        cruise_gs=16.0,
        valve_gs=0.0,
        plate_gs=0.0,
        set_point_v=14.3,
        alternator_a=80.0,
        thermostat_c=94.0,
        crank_a=215.0,
        battery_mohm=8.0,
    ),
    Build(
        sheet="PELLET-14",
        revision=2,
        share=0.17,
        displacement_l=1.4,
        cylinders=4,
        banks=1,
        air_metering="speed_density",
        idle_control="electronic_throttle",
        charging="commanded",
        idle_rpm=740.0,
        idle_gs=2.1,
        cruise_gs=9.0,
        valve_gs=0.0,
        plate_gs=0.0,
        set_point_v=14.2,
        alternator_a=60.0,
        thermostat_c=90.0,
        crank_a=150.0,
        battery_mohm=11.0,
    ),
    Build(
        sheet="GANTRY-46",
        revision=2,
        share=0.14,
        displacement_l=4.6,
        cylinders=8,
        banks=2,
        air_metering="maf",
        idle_control="bypass_valve",
        charging="fixed",
        idle_rpm=610.0,
        idle_gs=5.6,
        cruise_gs=22.0,
        valve_gs=9.6,
        plate_gs=2.2,
        set_point_v=14.35,
        alternator_a=76.0,
        thermostat_c=91.0,
        crank_a=230.0,
        battery_mohm=7.6,
    ),
)

SHEET_ALIASES: Final[dict[str, str]] = {"Module supply": "VPWR", "Engine water": "ECT"}
"""Names which loggers give on vehicles of the sheet that lists them."""

ALIAS_SHEET: Final = "GANTRY-46"


def _limit(parameter: str, state: str, low: float, high: float, unit: str) -> dict[str, str | float]:
    return {"parameter": parameter, "state": state, "low": low, "high": high, "unit": unit}


def _limits(build: Build) -> list[dict[str, str | float]]:
    """Give the limits a workshop would look up; wide enough for every sound vehicle of the kind."""
    found = []
    for bank in range(1, build.banks + 1):
        found += [
            _limit(f"LONGFT{bank}", "warm_idle", -16.0, 18.0, "%"),
            _limit(f"LONGFT{bank}", "cruise", -16.0, 18.0, "%"),
        ]
    if build.has_valve:
        found.append(_limit("IAC", "warm_idle", 8.0, 70.0, "%"))
    else:
        found.append(_limit("TAC_PCT", "warm_idle", 4.0, 13.4, "%"))
    low, high = (13.1, 15.2) if build.charging == "fixed" else (12.2, 15.3)
    return [
        *found,
        _limit("VPWR", "warm_idle", low, high, "V"),
        _limit("VPWR", "cruise", low, high, "V"),
        _limit("VPWR", "koeo_soak", 11.95, 13.2, "V"),
        _limit("CRANK_VMIN", "crank", 7.6, 12.6, "V"),
        _limit("ECT", "warm_idle", 72.0, 112.0, "degC"),
        _limit("ECT", "cruise", 72.0, 108.0, "degC"),
    ]


def sheets_text() -> str:
    """Write the specification sheets as the contract's JSON."""
    sheets = []
    for build in BUILDS:
        sheet = {
            "sheet": build.sheet,
            "revision": build.revision,
            "source": f"workshop folder {build.sheet}, engine and electrics, revision {build.revision}",
            "fuel": "gasoline",
            "displacement_l": build.displacement_l,
            "cylinders": build.cylinders,
            "banks": build.banks,
            "air_metering": build.air_metering,
            "idle_control": build.idle_control,
            "charging": build.charging,
            "limits": _limits(build),
            "soak_hours": 6,
            "soak_gap_degC": 8,
        }
        if build.sheet == ALIAS_SHEET:
            sheet["aliases"] = SHEET_ALIASES
        sheets.append(sheet)
    return json.dumps({"spec_sheets": sheets}, indent=1) + "\n"
