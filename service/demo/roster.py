"""Who is in the fleet: each vehicle's type, depots, habits, logger and own deviations from its type."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.demo.sheets import TYPES
from service.demo.strengths import Strengths
from service.demo.town import DEPOTS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Roster:
    """Every vehicle as columns of shape (V,), unless said otherwise.

    Parameters
    ----------
    names : tuple of str
        The fleet's own numbers.
    kind : int array
        Place in `sheets.TYPES`.
    depot : int array of shape (V, days)
        Place in `town.DEPOTS`, day by day.
    moved : bool array
        Whether the depot changes within the history.
    trim_idle, trim_cruise, bank_gap, trim_slope : float arrays
        Own deviation of learned trim [%], of bank 2 [%], and slope with air temperature [% / degC].
    learning, noise : float arrays
        Share of a trim error learned per day; factor on recording-to-recording noise.
    idle_air, air_scale, map_offset_kpa : float arrays
        Own idle opening [%], factor on idle airflow, MAP deviation [kPa].
    volts, rest_volts, crank_volts : float arrays
        Own voltage running, resting and lowest while cranking [V].
    ect_set_c, ect_offset_c, iat_offset_c : float arrays
        Thermostat deviation and sensor deviations [degC].
    uses_ac, km_per_day, start_hour, odometer_km, usage : float arrays
        Habits: willingness to use the air conditioning, distance, local hour of the day's first start,
        odometer on the first day, share of days in use.
    coarse, fahrenheit, aliased, stateless, switchless, reads_clear, reads_air, reads_more : bool arrays
        What the logger does and sends.
    device, second_device : tuple of str
        Logger names; the second follows from `swap_day` on.
    swap_day : int array
        Day from which the second logger reports; beyond the history where none.
    regridded, nameless : bool arrays
        Whether the second logger rounds otherwise than the first; whether no logger gives its name.
    """

    names: tuple[str, ...]
    kind: Ints
    depot: Ints
    moved: Flags
    trim_idle: Floats
    trim_cruise: Floats
    bank_gap: Floats
    trim_slope: Floats
    learning: Floats
    noise: Floats
    idle_air: Floats
    air_scale: Floats
    map_offset_kpa: Floats
    volts: Floats
    rest_volts: Floats
    crank_volts: Floats
    ect_set_c: Floats
    ect_offset_c: Floats
    iat_offset_c: Floats
    uses_ac: Floats
    km_per_day: Floats
    start_hour: Floats
    odometer_km: Floats
    usage: Floats
    coarse: Flags
    fahrenheit: Flags
    aliased: Flags
    stateless: Flags
    switchless: Flags
    reads_clear: Flags
    reads_air: Flags
    reads_more: Flags
    device: tuple[str, ...]
    second_device: tuple[str, ...]
    swap_day: Ints
    regridded: Flags
    nameless: Flags

    def __len__(self) -> int:
        """Count vehicles."""
        return len(self.names)


def constant(name: str) -> Floats:
    """Give a numeric field of every type as an array of shape (types,)."""
    return np.array([float(getattr(kind, name)) for kind in TYPES])


def _depots(rng: np.random.Generator, vehicles: int, days: int, share: float) -> tuple[Ints, Flags]:
    home = rng.integers(0, len(DEPOTS), vehicles)
    after = (home + rng.integers(1, len(DEPOTS), vehicles)) % len(DEPOTS)
    moved = rng.random(vehicles) < share
    day = np.where(moved, rng.integers(days // 6, max(days // 6 + 1, days * 5 // 6), vehicles), days + 1)
    grid = np.where(np.arange(days)[None, :] >= day[:, None], after[:, None], home[:, None])
    return grid, moved


def make_roster(rng: np.random.Generator, vehicles: int, days: int, strengths: Strengths) -> Roster:
    """Draw the vehicles of a fleet.

    Between-vehicle spreads of trim are assumptions: the published figures on which the noise rests are of
    single cars (learned trim at warm idle -0.9, +3.05, -5.5 and +9.1 % on four of them).

    Returns
    -------
    Roster
        `vehicles` vehicles, spread evenly over types and at random over depots.
    """
    kind = rng.permutation(np.arange(vehicles) % len(TYPES))
    depot, moved = _depots(rng, vehicles, days, strengths.moved)
    idle = rng.normal(0, 2.0, vehicles)
    swapped = rng.random(vehicles) < strengths.logger_swaps
    swap = np.where(swapped, rng.integers(days // 6, max(days // 6 + 1, days * 5 // 6), vehicles), days + 1)
    night = rng.random(vehicles) < strengths.night_work
    numbers = rng.permutation(np.arange(200, 200 + 2 * vehicles))

    def share(of: float) -> Flags:
        return np.asarray(rng.random(vehicles) < of)

    electronic = np.array([item.idle_control == "electronic_throttle" for item in TYPES])[kind]
    roster = Roster(
        names=tuple(f"W-{1 + place:04d}" for place in range(vehicles)),
        kind=kind,
        depot=depot,
        moved=moved,
        trim_idle=idle,
        trim_cruise=0.85 * idle + rng.normal(0, 0.9, vehicles),
        bank_gap=rng.normal(0, 0.9, vehicles),
        trim_slope=rng.normal(0, 0.012, vehicles),
        learning=rng.uniform(0.3, 0.65, vehicles),
        noise=strengths.noise * rng.uniform(0.8, 1.2, vehicles),
        idle_air=np.where(electronic, rng.normal(0, 0.45, vehicles), rng.normal(0, 2.2, vehicles)),
        air_scale=np.exp(rng.normal(0, 0.05, vehicles)),
        map_offset_kpa=rng.normal(0, 1.2, vehicles),
        volts=rng.normal(0, 0.1, vehicles),
        rest_volts=rng.normal(0, 0.07, vehicles),
        crank_volts=rng.normal(0, 0.3, vehicles),
        ect_set_c=rng.normal(0, 1.5, vehicles),
        ect_offset_c=rng.normal(0, 0.7, vehicles),
        iat_offset_c=rng.normal(0, 0.7, vehicles),
        uses_ac=rng.uniform(0.4, 1.0, vehicles),
        km_per_day=rng.uniform(40, 190, vehicles),
        start_hour=np.where(night, rng.uniform(12, 13.5, vehicles), rng.uniform(5.3, 8.2, vehicles)),
        odometer_km=rng.uniform(4_000, 160_000, vehicles).round(),
        usage=rng.uniform(0.85, 1.1, vehicles),
        coarse=share(strengths.coarse),
        fahrenheit=share(strengths.fahrenheit),
        aliased=share(strengths.aliased),
        stateless=share(strengths.stateless),
        switchless=share(strengths.switchless),
        reads_clear=share(0.7),
        reads_air=share(0.75),
        reads_more=share(0.6),
        device=tuple(f"L-{number}" for number in numbers[:vehicles]),
        second_device=tuple(f"L-{number}" for number in numbers[vehicles:]),
        swap_day=swap,
        regridded=np.zeros(vehicles, dtype=bool),
        nameless=np.zeros(vehicles, dtype=bool),
    )
    regridded, nameless = share(strengths.regridded), share(strengths.nameless)
    return replace(roster, regridded=regridded, nameless=nameless & ~roster.aliased)
