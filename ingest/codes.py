"""Every code that this room gives out, with what it means; codes are stable, sentences are not."""

from collections.abc import Mapping
from typing import Final

WHOLE_BODY: Final[Mapping[str, str]] = {
    "empty-body": "The body or file holds nothing.",
    "bad-json": "The body or item is not JSON, or is nested too deep.",
    "bad-toml": "The file is not TOML.",
    "bad-csv": "The CSV file, or its header line, cannot be read.",
    "bad-parquet": "The file is no whole Parquet file.",
    "bad-encoding": "The text is not UTF-8.",
    "csv-separator": "The columns are parted by something else than commas.",
    "missing-column": "A required column, key or field is missing.",
    "repeated-column": "The header line names a column twice, or one not at all.",
    "line-too-long": "A line of a stream is longer than any snapshot.",
    "too-large": "The body, unpacked or not, is larger than allowed.",
    "bad-compression": "Packed data is damaged or cut off.",
    "unknown-encoding": "The content encoding is not offered.",
    "unknown-kind": "The file kind is not offered.",
}
"""Codes of errors that refuse a body or file as a whole."""

REJECTED: Final[Mapping[str, str]] = {
    "bad-json": "The item is not JSON, or is nested too deep.",
    "bad-encoding": "The item is not UTF-8.",
    "bad-row": "The CSV row has another number of cells than the header, or quotes that do not match.",
    "wrong-type": "The item or one of its fields is of another type than the format says.",
    "no-vehicle": "The snapshot names no vehicle.",
    "no-time": "The snapshot has no time.",
    "bad-time": "The time is not RFC 3339, or does not exist.",
    "time-without-offset": "The time has no offset from UTC, or says that it is unknown.",
    "no-values": "The snapshot holds no value at all.",
    "too-many-values": "The snapshot holds more values than any vehicle reports.",
    "bad-name": "A number, name or id is too long or has characters that cannot be shown.",
    "bad-value": "A value is not of its parameter's kind: number, true or false, or status text.",
    "decimal-comma": "A number is written with a decimal comma.",
    "not-finite": "A number is NaN, infinite or beyond all bounds.",
    "service01-hex": "A raw answer is not hexadecimal text.",
    "service01-pid": "A raw answer has an identifier whose length is not known here.",
    "service01-length": "A raw answer is cut off or empty.",
    "service01-repeated": "A raw answer gives one identifier twice with other bytes.",
    "fuel-system-bits": "A raw fuel system status has several bits set, or one that is not defined.",
}
"""Codes of snapshots that cannot be read at all."""

QUARANTINED: Final[Mapping[str, str]] = {
    "out-of-range": "A value lies outside what its sensor can encode.",
    "wrong-unit": "A unit measures something else than the parameter.",
    "unknown-unit": "A unit is not in the list of accepted units.",
    "future-time": "The time lies more than five minutes ahead of the time of arrival.",
    "clock-not-set": "The time is what a clock shows that was never set.",
    "unknown-state": "The claimed operating state is not in the list.",
    "repeated-parameter": "Two names in one snapshot mean the same parameter and disagree.",
    "conflicting-repeat": "The same snapshot was sent again with other content; the first one stays.",
}
"""Codes of snapshots that can be read but not believed; they are kept, listed and releasable."""

NOTES: Final[Mapping[str, str]] = {
    "byte-order-mark": "The text began with a byte-order mark, which was taken off.",
    "duplicate-in-batch": "Snapshots that say again what an earlier one in the same body said.",
    "leap-second": "Times that name a leap second, read as the instant after it.",
    "at-sensor-end": "Readings at a sensor's end; kept, but they speak of its wiring, not of the engine.",
    "vacuum-without-barometer": "Manifold vacuums whose snapshots have no BARO; kept as they came.",
    "vacuum-below-zero": "Negative manifold vacuums, which loggers count in two ways; kept as they came.",
    "o2-not-in-trim": "Oxygen sensors that take no part in fuel trim; their trim was left out.",
    "nan-as-missing": "NaN in number columns of a Parquet file, taken for missing values.",
    "other-vehicle-named": "Items that name another vehicle than the one named for the whole file.",
    "state-claim-refuted": "Claimed operating states that the values contradict; kept, in no trend.",
    "open-loop": "Warm idle or cruise without closed-loop fuel control; kept, in no trend.",
    "just-started": "Warm idle less than a minute after the start; kept, in no trend.",
    "cool-for-warm": "Claimed warm idle with coolant below 70 degC; taken as claimed.",
    "no-engine-speed": "No engine speed and no claim, so no operating state.",
    "not-warm": "Moving as at cruise, but not shown to be warm; kept, in no trend.",
    "no-state": "Values that fit no operating state; kept, in no trend.",
}
"""Codes of what was accepted but deserves a word; they are counted."""

TABLES: Final[Mapping[str, str]] = {
    "missing-column": "A required column or field is missing or empty.",
    "wrong-type": "A field is of another type than the format says.",
    "bad-row": "The CSV row has another number of cells than the header, or quotes that do not match.",
    "bad-name": "A name is too long, has line breaks, or has characters that cannot be shown.",
    "bad-date": "A date is not YYYY-MM-DD, or does not exist.",
    "bad-time": "A time is not RFC 3339, or does not exist.",
    "time-without-offset": "A time has no offset from UTC.",
    "out-of-range": "A number lies outside what is possible.",
    "unknown-word": "A word is not in the list of allowed words, or a limit has a field it cannot have.",
    "unknown-parameter": "A code names no parameter.",
    "unknown-time-zone": "A time zone is not in the public list.",
    "unknown-unit": "A unit is not in the list of accepted units.",
    "wrong-unit": "A unit measures something else than the parameter.",
    "repeated-item": "The file names the same vehicle twice.",
    "sheet-conflict": "The file or store has the same sheet and revision with other content.",
    "low-above-high": "A limit's low side lies above its high side.",
    "limit-repeated": "A sheet has two limits for one parameter and state.",
    "limit-not-numeric": "A limit is set on a flag or a code.",
    "alias-scope": "An alias names no owner for its scope, or one for the whole fleet.",
    "alias-is-code": "An alias is the code of another parameter.",
    "alias-repeated": "An alias stands twice in one scope.",
    "alias-personal": "An alias names a driver or position field.",
    "alias-not-absolute": "An alias maps a vacuum or gauge pressure to an absolute one, without BARO.",
    "cost-repeated": "A cause stands twice in one cost file.",
}
"""Codes of rows of vehicle, spec sheet, alias, work and cost files that were rejected."""

WARNINGS: Final[Mapping[str, str]] = {
    "vin-digit": "The VIN's check digit does not fit its other characters.",
    "vin-shape": "The VIN has another length, or letters that no VIN has.",
}
"""Codes of rows that were accepted but deserve a look."""

CODES: Final[Mapping[str, str]] = {**WARNINGS, **NOTES, **TABLES, **QUARANTINED, **REJECTED, **WHOLE_BODY}
"""Every code with one meaning."""
