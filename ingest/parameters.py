"""What a parameter is: code, quantity, unit, encodable range, scaling and source.

This is one of the two vocabulary modules that other rooms may import. It holds facts only.

References
----------
Codes, units and scalings of service 01 follow SAE J1979 / SAE J1979-DA as carried by the decode
formulas of the public SAE J1699-3 conformance program. Rows without a PID are trade usage.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

Kind = Literal["level", "count", "flag", "code"]

STATES: Final = ("koeo_soak", "koeo", "crank", "cold_idle", "warm_idle", "cruise")
"""Operating states in the order of their stored number; -1 means that no state was reached."""

NO_STATE: Final = -1

SWITCHES: Final = ("ac", "power_steering", "in_gear")
"""Idle-load switches a snapshot may report, in stored order."""

FUEL_SYSTEM: Final = ("OL", "CL", "OL-Drive", "OL-Fault", "CL-Fault")
"""Fuel system status by stored number; J1979 PID 03 bits 01, 02, 04, 08, 10."""

CLOSED_LOOP: Final = FUEL_SYSTEM.index("CL")

CAUSES: Final = (
    "unmetered_air",
    "fuel_delivery_low",
    "air_meter_low",
    "injector_restricted",
    "purge_flow_stuck",
    "fuel_pressure_high",
    "exhaust_leak_ahead_of_sensor",
    "throttle_deposits",
    "load_switch_stuck",
    "charging_low",
    "charging_high",
    "battery_ageing",
    "voltage_drop",
    "coolant_sensor_bias",
    "air_sensor_bias",
    "thermostat_open",
    "map_sensor_bias",
    "oxygen_sensor_slow",
    "unknown",
)
"""Cause codes of the exchange contract; `unknown` is none of the others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One quantity that a vehicle can report.

    Parameters
    ----------
    code : str
        Label of SAE J1979-DA / SAE J1930, or trade usage where the standard has none.
    quantity : str
        Plain words, as shown on pages.
    unit : str
        Default unit; everything inside Forelamp is held in it.
    low, high : float
        Smallest and largest value that the sensor's encoding can carry, in `unit`.
    step : float
        Resolution of the encoding; 0 where the quantity has none fixed.
    kind : {"level", "count", "flag", "code"}
        How the number may be used: only levels are averaged and trended.
    pid : int or None
        Service 01 parameter identifier, where the standard has one.
    width : int
        Bytes of the service 01 answer that carry this value (0 without a PID).
    stuck_at : tuple of float
        Readings that say "sensor or wiring fault", not "engine", though the encoding allows them.
    source : str
        Where range and scaling can be looked up.
    """

    code: str
    quantity: str
    unit: str
    low: float
    high: float
    step: float = 0.0
    kind: Kind = "level"
    pid: int | None = None
    width: int = 0
    stuck_at: tuple[float, ...] = ()
    source: str = "SAE J1979-DA as in SAE J1699-3"


_USAGE = "trade usage, not in SAE J1979"
_PERCENT_STEP = 100 / 255
_TRIM_HIGH = 255 * 100 / 128 - 100
_TRIM_STEP = 100 / 128


def _trim(code: str, quantity: str, pid: int) -> Parameter:
    return Parameter(
        code=code,
        quantity=quantity,
        unit="%",
        low=-100.0,
        high=_TRIM_HIGH,
        step=_TRIM_STEP,
        pid=pid,
        width=1,
        stuck_at=(-100.0, _TRIM_HIGH),
    )


def _percent(code: str, quantity: str, pid: int) -> Parameter:
    return Parameter(
        code=code, quantity=quantity, unit="%", low=0.0, high=100.0, step=_PERCENT_STEP, pid=pid, width=1
    )


def _temperature(code: str, quantity: str, pid: int) -> Parameter:
    return Parameter(
        code=code,
        quantity=quantity,
        unit="degC",
        low=-40.0,
        high=215.0,
        step=1.0,
        pid=pid,
        width=1,
        stuck_at=(-40.0, 215.0),
    )


def _oxygen(code: str, quantity: str, pid: int) -> Parameter:
    return Parameter(
        code=code, quantity=quantity, unit="V", low=0.0, high=1.275, step=0.005, pid=pid, width=2
    )


_ALL = (
    _trim("LONGFT1", "long-term fuel trim, bank 1", 0x07),
    _trim("LONGFT2", "long-term fuel trim, bank 2", 0x09),
    _trim("SHRTFT1", "short-term fuel trim, bank 1", 0x06),
    _trim("SHRTFT2", "short-term fuel trim, bank 2", 0x08),
    Parameter(
        code="RPM", quantity="engine speed", unit="1/min", low=0, high=16383.75, step=0.25, pid=0x0C, width=2
    ),
    Parameter(code="VSS", quantity="vehicle speed", unit="km/h", low=0, high=255, step=1, pid=0x0D, width=1),
    _temperature("ECT", "engine coolant temperature", 0x05),
    _temperature("IAT", "intake air temperature", 0x0F),
    _temperature("AAT", "ambient air temperature", 0x46),
    Parameter(
        code="MAP",
        quantity="manifold absolute pressure",
        unit="kPa",
        low=0,
        high=2550,
        step=1,
        pid=0x0B,
        width=1,
        stuck_at=(0.0,),
    ),
    Parameter(
        code="BARO",
        quantity="barometric pressure",
        unit="kPa",
        low=0,
        high=255,
        step=1,
        pid=0x33,
        width=1,
        stuck_at=(0.0, 255.0),
    ),
    Parameter(
        code="MAF", quantity="mass air flow", unit="g/s", low=0, high=2550, step=0.01, pid=0x10, width=2
    ),
    _percent("TP", "throttle position", 0x11),
    _percent("TAC_PCT", "commanded throttle actuator", 0x4C),
    _percent("LOAD_PCT", "calculated load", 0x04),
    Parameter(
        code="LOAD_ABS",
        quantity="absolute load",
        unit="%",
        low=0,
        high=25700,
        step=_PERCENT_STEP,
        pid=0x43,
        width=2,
    ),
    Parameter(
        code="SPARKADV",
        quantity="ignition advance",
        unit="deg",
        low=-64,
        high=63.5,
        step=0.5,
        pid=0x0E,
        width=1,
    ),
    Parameter(
        code="VPWR",
        quantity="control module voltage",
        unit="V",
        low=0,
        high=65.535,
        step=0.001,
        pid=0x42,
        width=2,
        stuck_at=(0.0, 65.535),
    ),
    _oxygen("O2S11", "oxygen sensor voltage, bank 1 sensor 1", 0x14),
    _oxygen("O2S12", "oxygen sensor voltage, bank 1 sensor 2", 0x15),
    _oxygen("O2S21", "oxygen sensor voltage, bank 2 sensor 1", 0x18),
    _oxygen("O2S22", "oxygen sensor voltage, bank 2 sensor 2", 0x19),
    Parameter(
        code="LAMBDA1",
        quantity="commanded equivalence ratio",
        unit="1",
        low=0,
        high=2.0,
        step=2 / 65536,
        pid=0x44,
        width=2,
    ),
    Parameter(
        code="FUELSYS1",
        quantity="fuel system status",
        unit="code",
        low=0,
        high=len(FUEL_SYSTEM) - 1,
        step=1,
        kind="code",
        pid=0x03,
        width=2,
    ),
    Parameter(
        code="RUNTM",
        quantity="time since engine start",
        unit="s",
        low=0,
        high=65535,
        step=1,
        kind="count",
        pid=0x1F,
        width=2,
    ),
    Parameter(
        code="CLR_DIST",
        quantity="distance since codes cleared",
        unit="km",
        low=0,
        high=65535,
        step=1,
        kind="count",
        pid=0x31,
        width=2,
    ),
    Parameter(
        code="WARM_UPS",
        quantity="warm-ups since codes cleared",
        unit="1",
        low=0,
        high=255,
        step=1,
        kind="count",
        pid=0x30,
        width=1,
    ),
    _percent("FLI", "fuel level", 0x2F),
    _percent("ALCH_PCT", "alcohol share of the fuel", 0x52),
    Parameter(
        code="IAC",
        quantity="idle air control, share of the bypass valve's opening",
        unit="%",
        low=0,
        high=100,
        source=_USAGE,
    ),
    Parameter(
        code="IAC_COUNTS",
        quantity="idle air control, steps",
        unit="1",
        low=0,
        high=255,
        step=1,
        source=_USAGE,
    ),
    Parameter(code="INJ_PW", quantity="injector pulse width", unit="ms", low=0, high=65.535, source=_USAGE),
    Parameter(code="KNOCK_RETARD", quantity="knock retard", unit="deg", low=0, high=63.5, source=_USAGE),
    Parameter(
        code="CAM_SYNC", quantity="camshaft in sync", unit="bool", low=0, high=1, kind="flag", source=_USAGE
    ),
    Parameter(
        code="CRANK_SYNC",
        quantity="crankshaft in sync",
        unit="bool",
        low=0,
        high=1,
        kind="flag",
        source=_USAGE,
    ),
    Parameter(
        code="CRANK_VMIN",
        quantity="lowest voltage while cranking",
        unit="V",
        low=0,
        high=65.535,
        stuck_at=(0.0,),
        source=_USAGE,
    ),
)

PARAMETERS: Final[Mapping[str, Parameter]] = {parameter.code: parameter for parameter in _ALL}
"""Every parameter of the exchange contract by code, in stored column order."""

CODES: Final = tuple(PARAMETERS)
"""Codes in stored column order."""

COLUMN: Final[Mapping[str, int]] = {code: place for place, code in enumerate(CODES)}
"""Place of a code in a row of values."""
