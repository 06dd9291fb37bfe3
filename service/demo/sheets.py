"""The fictional vehicle types: what their spec sheets say and how their engines are built.

Types cover both ways of metering air, both ways of holding idle, one and two banks, fixed and commanded
charging. No type, maker or book exists.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

_BOOK = "workshop book of the fictional Wendmarrow Coachworks"

Band = tuple[str, str, float | None, float | None, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineType:
    """One vehicle type: the facts on its sheet and the constants behind its readings.

    Parameters
    ----------
    sheet, page : str
        Name of the sheet and the page of the book.
    displacement_l, cylinders, banks, air_metering, idle_control, charging, soak_hours, soak_gap_c
        As on the sheet.
    limits : tuple of (parameter, state, low, high, unit)
        Bands on the sheet.
    aliases : mapping of name to parameter
        Other names that this type's loggers use.
    idle_rpm : float
        Idle target [1/min].
    idle_air : float
        Warm idle opening: share of the bypass valve, or commanded throttle [%].
    trim_idle, trim_cruise, trim_slope : float
        Type means of learned trim [%] and its slope with air temperature [% / degC].
    volts : float
        Charging voltage warm at 25 degC [V].
    fuel_metering : {"mass", "orifice", "volume"}
        How injected fuel follows the blend's density; decides the trim shift of a blend change.
    reads_map, reads_alcohol, zero_in_open_loop : bool
        Whether MAP and ALCH_PCT are sent; whether LONGFT reads 0 before closed loop.
    """

    sheet: str
    page: int
    displacement_l: float
    cylinders: int
    banks: int
    air_metering: Literal["maf", "speed_density"]
    idle_control: Literal["bypass_valve", "electronic_throttle"]
    charging: Literal["fixed", "commanded"]
    soak_hours: float
    soak_gap_c: float
    limits: tuple[Band, ...]
    idle_rpm: float
    idle_air: float
    trim_idle: float
    trim_cruise: float
    trim_slope: float
    volts: float
    fuel_metering: Literal["mass", "orifice", "volume"]
    reads_map: bool
    reads_alcohol: bool
    zero_in_open_loop: bool
    aliases: Mapping[str, str] = field(default_factory=dict)


def _trims(banks: int, idle: float, cruise: float) -> tuple[Band, ...]:
    return tuple(
        (f"LONGFT{bank}", state, -band, band, "%")
        for bank in range(1, banks + 1)
        for state, band in (("warm_idle", idle), ("cruise", cruise))
    )


TYPES: Final = (
    EngineType(
        sheet="TARNOL-16", page=12, displacement_l=1.6, cylinders=4, banks=1,
        air_metering="maf", idle_control="bypass_valve", charging="fixed",
        soak_hours=5, soak_gap_c=6,
        limits=(
            *_trims(1, 11, 12),
            ("IAC", "warm_idle", 22, 52, "%"), ("MAF", "warm_idle", 1.4, 3.2, "g/s"),
            ("RPM", "warm_idle", 640, 860, "1/min"), ("VPWR", "warm_idle", 13.3, 15.0, "V"),
            ("VPWR", "cruise", 13.4, 15.0, "V"), ("VPWR", "koeo_soak", 12.2, None, "V"),
            ("CRANK_VMIN", "crank", 8.9, None, "V"), ("ECT", "cruise", 80, 104, "degC"),
        ),
        aliases={"BATTERY VOLTS": "VPWR", "Idle valve": "IAC"},
        idle_rpm=720, idle_air=35, trim_idle=-0.8, trim_cruise=-0.2, trim_slope=0.02, volts=14.05,
        fuel_metering="mass", reads_map=True, reads_alcohol=False, zero_in_open_loop=True,
    ),
    EngineType(
        sheet="OSKREN-20", page=31, displacement_l=2.0, cylinders=4, banks=1,
        air_metering="maf", idle_control="electronic_throttle", charging="commanded",
        soak_hours=8, soak_gap_c=9,
        limits=(
            *_trims(1, 12, 12),
            ("TAC_PCT", "warm_idle", 2.0, 8.5, "%"), ("MAF", "warm_idle", 1.8, 4.2, "g/s"),
            ("VPWR", "koeo_soak", 12.2, None, "V"), ("CRANK_VMIN", "crank", 9.0, None, "V"),
            ("ECT", "cruise", 82, 108, "degC"),
        ),
        idle_rpm=700, idle_air=5.4, trim_idle=1.5, trim_cruise=1.0, trim_slope=-0.03, volts=13.9,
        fuel_metering="orifice", reads_map=False, reads_alcohol=True, zero_in_open_loop=False,
    ),
    EngineType(
        sheet="BELVANT-30", page=7, displacement_l=3.0, cylinders=6, banks=2,
        air_metering="maf", idle_control="electronic_throttle", charging="fixed",
        soak_hours=7, soak_gap_c=12,
        limits=(
            *_trims(2, 11, 12),
            ("TAC_PCT", "warm_idle", 2.4, 9.0, "%"), ("MAF", "warm_idle", 2.7, 6.2, "g/s"),
            ("VPWR", "warm_idle", 13.4, 15.1, "V"), ("VPWR", "cruise", 13.4, 15.1, "V"),
            ("VPWR", "koeo_soak", 12.25, None, "V"), ("CRANK_VMIN", "crank", 9.0, None, "V"),
            ("ECT", "cruise", 80, 106, "degC"),
        ),
        aliases={"LT TRIM B1": "LONGFT1", "LT TRIM B2": "LONGFT2"},
        idle_rpm=650, idle_air=6.0, trim_idle=0.6, trim_cruise=1.2, trim_slope=0.035, volts=14.15,
        fuel_metering="orifice", reads_map=False, reads_alcohol=False, zero_in_open_loop=False,
    ),
    EngineType(
        sheet="MUNDROW-14", page=58, displacement_l=1.4, cylinders=4, banks=1,
        air_metering="speed_density", idle_control="bypass_valve", charging="fixed",
        soak_hours=6, soak_gap_c=15,
        limits=(
            *_trims(1, 11, 12),
            ("IAC", "warm_idle", 20, 51, "%"), ("MAP", "warm_idle", 23, 45, "kPa"),
            ("VPWR", "warm_idle", 13.2, 14.9, "V"), ("VPWR", "koeo_soak", 12.2, None, "V"),
            ("CRANK_VMIN", "crank", 8.8, None, "V"), ("ECT", "cruise", 78, 104, "degC"),
        ),
        idle_rpm=780, idle_air=33, trim_idle=2.2, trim_cruise=1.6, trim_slope=-0.04, volts=13.95,
        fuel_metering="volume", reads_map=True, reads_alcohol=False, zero_in_open_loop=True,
    ),
    EngineType(
        sheet="PELLICK-36", page=103, displacement_l=3.6, cylinders=6, banks=2,
        air_metering="speed_density", idle_control="electronic_throttle", charging="commanded",
        soak_hours=6, soak_gap_c=8,
        limits=(
            *_trims(2, 10, 11),
            ("TAC_PCT", "warm_idle", 2.0, 8.8, "%"), ("MAP", "warm_idle", 22, 45, "kPa"),
            ("VPWR", "koeo_soak", 12.25, None, "V"), ("CRANK_VMIN", "crank", 9.0, None, "V"),
            ("ECT", "cruise", 82, 108, "degC"),
        ),
        idle_rpm=640, idle_air=5.6, trim_idle=-1.8, trim_cruise=-1.0, trim_slope=0.0, volts=14.0,
        fuel_metering="mass", reads_map=True, reads_alcohol=True, zero_in_open_loop=False,
    ),
)  # fmt: skip
"""The fleet's vehicle types, in the order of their stored number."""


def sheet_entry(kind: EngineType) -> dict[str, object]:
    """Write one type's spec sheet as the exchange contract has it."""
    return {
        "sheet": kind.sheet,
        "revision": 1,
        "source": f"{_BOOK}, p. {kind.page}",
        "fuel": "gasoline",
        "displacement_l": kind.displacement_l,
        "cylinders": kind.cylinders,
        "banks": kind.banks,
        "air_metering": kind.air_metering,
        "idle_control": kind.idle_control,
        "limits": [
            {"parameter": parameter, "state": state, "unit": unit}
            | ({} if low is None else {"low": low})
            | ({} if high is None else {"high": high})
            for parameter, state, low, high, unit in kind.limits
        ],
        "aliases": dict(kind.aliases),
        "soak_hours": kind.soak_hours,
        "soak_gap_degC": kind.soak_gap_c,
        "charging": kind.charging,
    }
