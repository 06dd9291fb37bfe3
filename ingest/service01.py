"""Raw answers of service 01 (current data), decoded to values.

One answer may carry several identifiers, each followed by its data bytes: ``41 0C 0B B8 05 82``. The leading
``41`` (the service's answer mark) may be left out; several answers may stand on lines of their own.

Two things depend on the vehicle. Identifiers 4F and 50 change the scaling of others: they count wherever they
stand in the answers. A vehicle that reports 1D has up to four banks: its trims (06 to 09) carry two bytes,
and its oxygen sensors are numbered differently. An answer that carries 1D is read so by itself; `four_banks`
says it for vehicles whose 1D came in another answer.

References
----------
SAE J1979 / J1979-DA as carried by the decode formulas of the public SAE J1699-3 program.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

from ingest.errors import BadResponse
from ingest.parameters import FUEL_SYSTEM

ANSWER_MARK: Final = 0x41
NOT_IN_TRIM: Final = 0xFF
"""Second byte of an oxygen sensor's answer: this sensor takes no part in fuel trim."""

_BANK_MAP: Final = 0x1D
_TRIMS: Final = range(0x06, 0x0A)
_MAXIMA: Final = 0x4F
_AIR_MAXIMUM: Final = 0x50
_HEX = re.compile(r"[0-9A-Fa-f]{2}")

WIDTHS: Final[Mapping[int, int]] = {
    **dict.fromkeys((0x00, 0x20, 0x40, 0x60, 0x80, 0xA0, 0xC0, 0x01, 0x41, 0x4F, 0x50), 4),
    **dict.fromkeys((0x02, 0x03, 0x0C, 0x10, 0x1F, 0x21, 0x31, 0x42, 0x43, 0x44, 0x4D, 0x4E, 0x5E), 2),
    **dict.fromkeys((*range(0x04, 0x0C), 0x0D, 0x0E, 0x0F, 0x11, 0x12, 0x13, 0x1C, 0x1D, 0x1E), 1),
    **dict.fromkeys((0x2C, 0x2E, 0x2F, 0x30, 0x33, 0x45, 0x46, 0x4C, 0x51, 0x52, 0x5B, 0x5C), 1),
    **dict.fromkeys(range(0x14, 0x1C), 2),
    **dict.fromkeys((*range(0x24, 0x2C), *range(0x34, 0x3C)), 4),
    **dict.fromkeys(range(0x3C, 0x40), 2),
}
"""Data bytes of each identifier that is known here."""

Scaling = Callable[[bytes], float]

_FUEL_BITS: Final = {1 << place: name for place, name in enumerate(FUEL_SYSTEM)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """Values of one or more answers.

    Parameters
    ----------
    values : dict of str to float or str
        By parameter code in default units (`FUELSYS1` as its text), and by short name for quantities that
        the exchange format has no code for. What a sensor declares as not in use is left out.
    notes : tuple of str
        ``o2-not-in-trim`` once for each sensor that takes no part in fuel trim.
    """

    values: dict[str, float | str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def decode(answer: str | bytes, *, four_banks: bool = False) -> Decoded:
    """Decode raw answers.

    Parameters
    ----------
    answer : str or bytes
        Hexadecimal text, blanks between bytes or none, one answer a line; or the bytes of one answer.
    four_banks : bool
        True for a vehicle that reports identifier 1D.

    Raises
    ------
    BadResponse
        No hexadecimal text, an unknown identifier (its length cannot be known), a cut-off answer, the same
        identifier twice with other bytes, or a fuel system status with several bits set.

    Examples
    --------
    >>> decode("41 0C 0B B8 05 82").values
    {'RPM': 750.0, 'ECT': 90.0}
    """
    lines = [answer] if isinstance(answer, bytes) else _read_hex(answer)
    raw: dict[int, bytes] = {}
    for line in lines:
        for pid, data in _split_line(line, four_banks).items():
            if raw.setdefault(pid, data) != data:
                raise BadResponse("service01-repeated", f"Identifier {pid:02X} comes twice with other bytes.")
    if not raw:
        raise BadResponse("service01-length", "A service 01 answer holds at least one identifier with data.")
    return _scale(raw, four_banks=four_banks or _BANK_MAP in raw)


def _read_hex(text: str) -> list[bytes]:
    lines = []
    for line in text.splitlines():
        packed = "".join(line.split())
        if len(packed) % 2 or not all(_HEX.fullmatch(packed, at, at + 2) for at in range(0, len(packed), 2)):
            raise BadResponse(
                "service01-hex",
                f"{line[:40]!r} is not hexadecimal text such as 41 0C 0B B8: pairs of 0-9, A-F.",
            )
        if packed:
            lines.append(bytes.fromhex(packed))
    return lines


def _split_line(line: bytes, four_banks: bool) -> dict[int, bytes]:
    """Cut one answer into identifiers; wide trims are tried when the narrow reading tells of 1D or fails."""
    if four_banks:
        return _split(line, wide=True)
    try:
        narrow = _split(line, wide=False)
    except BadResponse as fault:
        try:
            wide = _split(line, wide=True)
        except BadResponse:
            raise fault from None
        if _BANK_MAP not in wide:
            raise
        return wide
    return _split(line, wide=True) if _BANK_MAP in narrow else narrow


def _split(line: bytes, *, wide: bool) -> dict[int, bytes]:
    raw: dict[int, bytes] = {}
    at = 1 if line[:1] == bytes([ANSWER_MARK]) else 0
    while at < len(line):
        pid = line[at]
        width = WIDTHS.get(pid)
        if width is None:
            raise BadResponse(
                "service01-pid",
                f"Identifier {pid:02X} at byte {at} is not known here, so its length and all that follows "
                "cannot be read; send it on a line of its own or leave it out.",
            )
        if wide and pid in _TRIMS:
            width = 2
        data = line[at + 1 : at + 1 + width]
        if len(data) < width:
            raise BadResponse(
                "service01-length", f"Identifier {pid:02X} carries {width} data bytes, only {len(data)} came."
            )
        if raw.setdefault(pid, data) != data:
            raise BadResponse("service01-repeated", f"Identifier {pid:02X} comes twice with other bytes.")
        at += 1 + width
    return raw


def _scale(raw: Mapping[int, bytes], *, four_banks: bool) -> Decoded:
    values: dict[str, float | str] = {}
    notes: list[str] = []
    maxima = raw.get(_MAXIMA, bytes(4))
    air_maximum = raw.get(_AIR_MAXIMUM, bytes(4))[0]
    for pid, data in raw.items():
        if pid in _PLAIN:
            name, scaling = _PLAIN[pid]
            values[name] = scaling(data)
        elif pid in _TRIMS:
            values.update(_read_trims(pid, data))
        elif pid == 0x03:
            values.update(_read_fuel_system(data))
        elif pid == 0x0B:
            values["MAP"] = data[0] * maxima[3] * 10 / 255 if maxima[3] else float(data[0])
        elif pid == 0x10:
            values["MAF"] = _word(data) * air_maximum * 10 / 65535 if air_maximum else _word(data) / 100
        elif 0x14 <= pid <= 0x1B:
            found, unused = _read_oxygen(_name_sensor(pid - 0x14, four_banks), data)
            values.update(found)
            notes.extend(["o2-not-in-trim"] * unused)
        elif 0x24 <= pid <= 0x2B or 0x34 <= pid <= 0x3B:
            values.update(_read_wide_range(_name_sensor(pid & 0x07 ^ 0x04, four_banks), pid, data, maxima))
    return Decoded(values=values, notes=tuple(notes))


def _word(data: bytes) -> int:
    return data[0] * 256 + data[1]


def _percent(data: bytes) -> float:
    return data[0] * 100 / 255


def _temperature(data: bytes) -> float:
    return float(data[0] - 40)


def _byte(data: bytes) -> float:
    return float(data[0])


def _count(data: bytes) -> float:
    return float(_word(data))


def _catalyst(data: bytes) -> float:
    return _word(data) / 10 - 40


_PLAIN: Final[Mapping[int, tuple[str, Scaling]]] = {
    0x04: ("LOAD_PCT", _percent),
    0x05: ("ECT", _temperature),
    0x0A: ("FRP", lambda data: data[0] * 3.0),
    0x0C: ("RPM", lambda data: _word(data) / 4),
    0x0D: ("VSS", _byte),
    0x0E: ("SPARKADV", lambda data: data[0] / 2 - 64),
    0x0F: ("IAT", _temperature),
    0x11: ("TP", _percent),
    0x1E: ("AUXSTAT", lambda data: float(data[0] & 1)),
    0x1F: ("RUNTM", _count),
    0x21: ("MIL_DIST", _count),
    0x2C: ("EGR_PCT", _percent),
    0x2E: ("EVAP_PCT", _percent),
    0x2F: ("FLI", _percent),
    0x30: ("WARM_UPS", _byte),
    0x31: ("CLR_DIST", _count),
    0x33: ("BARO", _byte),
    0x3C: ("CATEMP11", _catalyst),
    0x3D: ("CATEMP21", _catalyst),
    0x3E: ("CATEMP12", _catalyst),
    0x3F: ("CATEMP22", _catalyst),
    0x42: ("VPWR", lambda data: _word(data) / 1000),
    0x43: ("LOAD_ABS", lambda data: _word(data) * 100 / 255),
    0x44: ("LAMBDA1", lambda data: _word(data) * 2 / 65536),
    0x45: ("TP_R", _percent),
    0x46: ("AAT", _temperature),
    0x4C: ("TAC_PCT", _percent),
    0x4D: ("MIL_TIME", _count),
    0x4E: ("CLR_TIME", _count),
    0x51: ("FUEL_TYP", _byte),
    0x52: ("ALCH_PCT", _percent),
    0x5B: ("BAT_PWR", _percent),
    0x5C: ("EOT", _temperature),
    0x5E: ("FUEL_RATE", lambda data: _word(data) / 20),
}


def _trim(byte: int) -> float:
    return byte * 100 / 128 - 100


def _read_trims(pid: int, data: bytes) -> dict[str, float]:
    """Read one trim, or two: bank 1 with bank 3, bank 2 with bank 4."""
    name = "SHRTFT" if pid % 2 == 0 else "LONGFT"
    bank = 1 if pid < 0x08 else 2
    return {f"{name}{bank + 2 * place}": _trim(byte) for place, byte in enumerate(data)}


def _read_fuel_system(data: bytes) -> dict[str, str]:
    """Read the first fuel system; zero (no fuel system reporting) gives nothing."""
    status = data[0]
    if status == 0:
        return {}
    name = _FUEL_BITS.get(status)
    if name is None:
        raise BadResponse(
            "fuel-system-bits",
            f"Fuel system status must have one of the bits 01, 02, 04, 08, 10 set, was {status:02X}.",
        )
    return {"FUELSYS1": name}


def _name_sensor(place: int, four_banks: bool) -> str:
    """Name an oxygen sensor by its place: two banks of four, or four banks of two."""
    per_bank = 2 if four_banks else 4
    return f"{place // per_bank + 1}{place % per_bank + 1}"


def _read_oxygen(sensor: str, data: bytes) -> tuple[dict[str, float], bool]:
    values = {f"O2S{sensor}": data[0] * 0.005}
    unused = data[1] == NOT_IN_TRIM
    if not unused:
        values[f"SHRTFT_O2S{sensor}"] = _trim(data[1])
    return values, unused


def _read_wide_range(sensor: str, pid: int, data: bytes, maxima: bytes) -> dict[str, float]:
    """Read equivalence ratio with voltage (24-2B) or current (34-3B) of a wide-range sensor."""
    ratio_max, volt_max, current_max = maxima[0], maxima[1], maxima[2]
    first, second = _word(data), _word(data[2:])
    ratio = first * ratio_max / 65535 if ratio_max else first * 2 / 65536
    if pid < 0x34:
        volts = second * volt_max / 65535 if volt_max else second * 8 / 65536
        return {f"EQ_RAT{sensor}": ratio, f"O2S{sensor}_WIDE_V": volts}
    scale = current_max / 32768 if current_max else 1 / 256
    # a name of its own: a vehicle may answer both identifiers of one sensor
    return {f"EQ_RAT{sensor}_BY_CURRENT": ratio, f"O2S{sensor}_MA": (second - 32768) * scale}
