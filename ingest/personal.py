"""Driver and position fields, which are dropped at the door.

The store has no room for persons or places. A field is dropped by its name, at any depth, before anything
else looks at it; the sender is told how many were. The lists are generous: a harmless field that is dropped
costs little, a name or place that is kept costs trust.
"""

import re
from functools import lru_cache
from typing import Final

PERSONAL_WORDS: Final = frozenset(
    (
        "driver",
        "drivers",
        "drivername",
        "driverid",
        "operator",
        "lat",
        "latitude",
        "lon",
        "lng",
        "longitude",
        "gps",
        "gnss",
        "geo",
        "geohash",
        "geolocation",
        "geofence",
        "latlon",
        "latlng",
        "coordinate",
        "coordinates",
        "coords",
        "location",
        "locations",
        "address",
        "addresses",
        "street",
        "postcode",
        "zipcode",
        "city",
        "email",
        "phone",
        "telephone",
        "surname",
        "firstname",
        "lastname",
        "username",
        "employee",
        "whereabouts",
        "placename",
    )
)
"""Words that make any name they stand in personal: ``gps_speed``, ``lastLatitude``, ``Driver ID``."""

PERSONAL_NAMES: Final = frozenset(
    (
        "long",
        "position",
        "pos",
        "place",
        "name",
        "zip",
        "heading",
        "bearing",
        "course",
        "person",
        "user",
        "vehicleposition",
        "currentposition",
        "lastposition",
        "startposition",
        "endposition",
        "lastpos",
        "currentpos",
        "tripstart",
        "tripend",
    )
)
"""Whole names that are personal though their words are not: *throttle position* is none."""

ENGINE_WORDS: Final = frozenset(
    (
        "demand",
        "demanded",
        "demands",
        "injector",
        "injectors",
        "coil",
        "coils",
        "circuit",
        "torque",
        "relay",
    )
)
"""Words beside which *driver* means an output stage or the pedal, not a person."""

_PARTS = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")
_DEEPEST = 64


@lru_cache(maxsize=4096)  # remembers answers of a pure function; the same names come a million times
def is_personal(name: str) -> bool:
    """Tell whether a field of this name speaks of a person or a place.

    Examples
    --------
    >>> [is_personal(name) for name in ("driver_id", "gpsLat", "Absolute Throttle Position [%]")]
    [True, True, False]
    """
    words = [part.lower() for part in _PARTS.findall(name)]
    if "".join(words) in PERSONAL_NAMES | PERSONAL_WORDS:
        return True
    found = PERSONAL_WORDS.intersection(words)
    if found <= {"driver", "drivers"} and ENGINE_WORDS.intersection(words):
        return False
    return bool(found)


def strip_personal(value: object, known: frozenset[str] = frozenset(), depth: int = 0) -> tuple[object, int]:
    """Take personal fields out of a decoded JSON value, at any depth.

    Parameters
    ----------
    value : object
        Decoded JSON.
    known : frozenset of str
        Names at the outermost level that have a place in the format and are kept.
    depth : int
        Used by the function itself; values nested more than 64 deep are dropped as a whole.

    Returns
    -------
    tuple
        The value without them, and how many were dropped.

    Examples
    --------
    >>> strip_personal({"a": [{"lat": 1.0, "b": 2}]})
    ({'a': [{'b': 2}]}, 1)
    """
    if depth > _DEEPEST:
        return None, 1
    if isinstance(value, dict):
        kept: dict[str, object] = {}
        dropped = 0
        for key, inner in value.items():
            if key not in known and is_personal(key):
                dropped += 1
                continue
            kept[key], below = strip_personal(inner, frozenset(), depth + 1)
            dropped += below
        return kept, dropped
    if isinstance(value, list):
        pairs = [strip_personal(inner, frozenset(), depth + 1) for inner in value]
        return [inner for inner, _ in pairs], sum(below for _, below in pairs)
    return value, 0


def mentions_personal(text: str) -> bool:
    """Tell whether text that cannot be parsed may hold a personal field, so that it must not be kept.

    Examples
    --------
    >>> mentions_personal('{"vehicle": "V-1", "driverName": "somebody')
    True
    """
    words = {part.lower() for part in _PARTS.findall(text)}
    return bool(words & (PERSONAL_WORDS | PERSONAL_NAMES))
