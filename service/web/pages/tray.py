"""Names that wait for a meaning: nobody knows them, and nobody chose to ignore them."""

from collections.abc import Iterable
from typing import Final

from dashboards.setup.names import NameLine
from ingest.aliases import split_unit
from ingest.records import Alias
from service.store import UnknownName, Work

SHOWN: Final = 3
"""Sample values and devices shown for each name; chosen by us."""


def waiting_names(work: Work, unknown: Iterable[UnknownName] | None = None) -> tuple[NameLine, ...]:
    """Give the names that wait, the most frequent first.

    Parameters
    ----------
    work : Work
        Unit of work of the request.
    unknown : iterable of UnknownName or None
        What the store lists as unknown; None to ask it.

    Returns
    -------
    tuple of NameLine
        A name that has a meaning for some devices only still waits for the others.
    """
    ignored, aliases = work.ignored_names(), work.aliases()
    samples: dict[str, list[tuple[str, str]]] = {}
    for sample in work.name_samples():
        samples.setdefault(sample.name, []).append((sample.device, sample.sample))
    counts: dict[str, int] = {}
    for one in work.unknown_names() if unknown is None else unknown:
        if one.name and one.name not in ignored:
            counts[one.name] = counts.get(one.name, 0) + one.count
    lines = []
    for name, count in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        own = samples.get(name, [])
        if is_settled(name, [device for device, _ in own], aliases):
            continue
        devices = [device for device, _ in own if device]
        lines.append(
            NameLine(
                name=name,
                unit=split_unit(name)[1],
                count=count,
                samples=tuple(dict.fromkeys(text for _, text in own))[:SHOWN],
                devices=tuple(devices[:SHOWN]),
                more_devices=max(0, len(devices) - SHOWN),
            )
        )
    return tuple(lines)


def is_settled(name: str, devices: Iterable[str], aliases: Iterable[Alias]) -> bool:
    """Tell whether a name has a meaning for every device that sent it.

    Parameters
    ----------
    name : str
        As it came.
    devices : iterable of str
        Devices that sent it.
    aliases : iterable of Alias
        Every alias; one for a sheet counts for all.

    Examples
    --------
    >>> rows = [Alias(scope="device", scope_id="L-1", name="Coolant", parameter="ECT")]
    >>> is_settled("Coolant [degF]", ["L-1"], rows), is_settled("Coolant", ["L-1", "L-2"], rows)
    (True, False)
    """
    names = {name, split_unit(name)[0]}
    own = [alias for alias in aliases if alias.name in names]
    if any(alias.scope != "device" for alias in own):
        return True
    known = {alias.scope_id for alias in own}
    return bool(known) and set(devices) <= known
