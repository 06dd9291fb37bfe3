"""Fictional spec sheets, with the constants of the engines behind them."""

from typing import Any, Final

Sheet = dict[str, Any]

FRICTION: Final = 1.12
"""Air that friction takes at 700 1/min [g/s per litre]."""

COMMON: Final = (
    "RPM", "VSS", "ECT", "IAT", "VPWR", "LONGFT1", "SHRTFT1", "FUELSYS1", "RUNTM", "CLR_DIST", "WARM_UPS",
    "LOAD_PCT", "TP", "SPARKADV",
)  # fmt: skip
"""Parameters that vehicles of every sheet report."""

_BARE: Final = (("LONGFT1", "warm_idle"), ("VPWR", "warm_idle"), ("ECT", "cruise"), ("TAC_PCT", "warm_idle"))
"""All that the sheet that says little gives limits for."""

_DRAWN: Final[tuple[Sheet, ...]] = (
    {
        "sheet": "TARN-18", "disp": 1.8, "cyl": 4, "banks": 1, "maf": True, "bypass": True,
        "commanded": False, "rpm": 720, "tstat": 88, "v": 14.1, "alt": 110, "u0": 34, "inj": 2.1,
        "ac_kw": 0.5, "switches": ("ac", "power_steering", "in_gear"),
        "extra": "MAF IAC O2S11 O2S12 CRANK_VMIN",
    },
    {
        "sheet": "FELL-25", "disp": 2.5, "cyl": 4, "banks": 1, "maf": True, "bypass": False,
        "commanded": True, "rpm": 680, "tstat": 90, "v": 13.95, "alt": 140, "u0": 28, "inj": 2.8,
        "ac_kw": 0.6, "switches": ("ac", "power_steering", "in_gear"),
        "extra": "MAF MAP BARO AAT TAC_PCT LOAD_ABS O2S12 LAMBDA1 FLI KNOCK_RETARD",
    },
    {
        "sheet": "SCREE-36", "disp": 3.6, "cyl": 6, "banks": 2, "maf": True, "bypass": False,
        "commanded": False, "rpm": 640, "tstat": 91, "v": 14.15, "alt": 150, "u0": 31, "inj": 3.2,
        "ac_kw": 0.8, "switches": ("ac", "in_gear"),
        "extra": "MAF MAP TAC_PCT LOAD_ABS LONGFT2 SHRTFT2 O2S11 O2S12 O2S21 O2S22 INJ_PW CRANK_VMIN AAT",
    },
    {
        "sheet": "BECK-30", "disp": 3.0, "cyl": 6, "banks": 2, "maf": False, "bypass": True,
        "commanded": False, "rpm": 700, "tstat": 86, "v": 14.05, "alt": 120, "u0": 36, "inj": 2.6,
        "ac_kw": 0.7, "switches": ("ac", "power_steering"),
        "extra": "MAP BARO IAC IAC_COUNTS LONGFT2 SHRTFT2 O2S11 O2S21 INJ_PW CRANK_VMIN KNOCK_RETARD",
    },
    {
        "sheet": "COMBE-16", "disp": 1.6, "cyl": 4, "banks": 1, "maf": False, "bypass": False,
        "commanded": True, "rpm": 750, "tstat": 89, "v": 13.9, "alt": 105, "u0": 30, "inj": 1.9,
        "ac_kw": 0.38, "switches": (),
        "extra": "MAP AAT TAC_PCT O2S11 O2S12 ALCH_PCT FLI CAM_SYNC CRANK_SYNC",
    },
)  # fmt: skip


def _with_airflow(drawn: Sheet) -> Sheet:
    """Add the parameters that are reported, and the airflow at warm idle and at cruise [g/s]."""
    friction = FRICTION * drawn["disp"]
    idle = friction * (drawn["rpm"] / 700) ** 0.85 + 0.94 * 13.8 * 36 / 1000 / 0.6  # nothing switched on
    return drawn | {
        "params": [*COMMON, *drawn["extra"].split()],
        "m_idle": idle,
        "m_cruise": friction * (1900 / 700) ** 0.85 + 0.94 * (0.9 + 4.0 + 2.0 * drawn["disp"]),
        "k_th": idle / (drawn["u0"] + 8),
    }


SHEETS: Final = tuple(_with_airflow(drawn) for drawn in _DRAWN)
"""Sheets by place.

`disp` [l], `cyl`, `banks`; `maf`: air is metered, else computed from pressure; `bypass`: idle air by a valve,
else by the throttle; `commanded` charging; `rpm` idle target; `tstat` thermostat [degC]; `v` charging voltage
[V]; `alt` generator [A]; `u0` opening meant at warm idle; `inj` flow of an injector [g/s]; `ac_kw` the
compressor's load.
"""


def limits(sheet: Sheet) -> list[dict[str, Any]]:
    """Give the rows of limits of a sheet."""
    rows: list[dict[str, Any]] = []

    def band(parameter: str, state: str, low: float | None, high: float | None, unit: str) -> None:
        row: dict[str, Any] = {"parameter": parameter, "state": state}
        row |= {} if low is None else {"low": low}
        row |= {} if high is None else {"high": high}
        rows.append(row | {"unit": unit})

    for bank in range(1, sheet["banks"] + 1):
        band(f"LONGFT{bank}", "warm_idle", -8.5, 8.5, "%")
        band(f"LONGFT{bank}", "cruise", -8.5, 8.5, "%")
    if sheet["commanded"]:
        band("VPWR", "warm_idle", 12.6, 15.0, "V")
    else:
        band("VPWR", "warm_idle", 13.3, 14.6, "V")
        band("VPWR", "cruise", 13.4, 14.65, "V")
    band("VPWR", "koeo_soak", 12.25, None, "V")
    if "CRANK_VMIN" in sheet["params"]:
        band("CRANK_VMIN", "crank", 8.8, None, "V")
    idle_air = "IAC" if sheet["bypass"] else "TAC_PCT"
    band(idle_air, "warm_idle", sheet["u0"] - 9, sheet["u0"] + (15 if sheet["switches"] else 24), "%")
    band("ECT", "cruise", sheet["tstat"] - 8.0, 106.0, "degC")
    band("ECT", "warm_idle", sheet["tstat"] - 8.0, 108.0, "degC")
    band("RPM", "warm_idle", sheet["rpm"] - 90, sheet["rpm"] + 150, "1/min")
    if "MAP" in sheet["params"]:
        band("MAP", "warm_idle", 26.0, 50.0, "kPa")
    if "MAF" in sheet["params"]:
        band("MAF", "warm_idle", round(sheet["m_idle"] * 0.75, 1), round(sheet["m_idle"] * 1.45, 1), "g/s")
    if sheet["sheet"] == "COMBE-16":
        rows = [row for row in rows if (row["parameter"], row["state"]) in _BARE]
    return rows
