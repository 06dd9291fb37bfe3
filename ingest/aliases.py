"""Other names for parameters: an alias table, never a guess.

A name is looked up for the device first, then for the vehicle's spec sheet, then for the fleet, and last
among the codes. A header such as ``Engine RPM [RPM]`` is first tried as a whole, because loggers put units of
their own into the bracket; only then is it split into name and unit.
"""

import re
from collections.abc import Iterable
from typing import Final, Literal, cast

from ingest.errors import BadAlias, UnknownUnit, WrongUnit
from ingest.listing import BadItem, Item, load, read_listing, take_text, take_word
from ingest.parameters import PARAMETERS
from ingest.personal import is_personal
from ingest.records import Alias, Loaded, SpecSheet
from ingest.units import find_line

SCOPES: Final = ("device", "sheet", "fleet")
COLUMNS: Final = frozenset(("scope", "scope_id", "name", "parameter", "unit"))
_BRACKET = re.compile(r"(.*\S)\s*\[([^\[\]]*)\]", re.DOTALL)
_VACUUM = re.compile(r"vac|vacuum|depression", re.IGNORECASE)
_RELATIVE = re.compile(r"gauge|boost|relative", re.IGNORECASE)
_WORDS = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+")
_ABSOLUTE = ("MAP", "BARO")

Meaning = tuple[str, str]


def split_unit(text: str) -> tuple[str, str]:
    """Split a column header into name and bracketed unit (empty where there is none).

    Examples
    --------
    >>> split_unit("ECT [degF]"), split_unit("ECT")
    (('ECT', 'degF'), ('ECT', ''))
    """
    match = _BRACKET.fullmatch(text)
    return (match[1], match[2].strip()) if match else (text, "")


def check_alias(alias: Alias) -> None:
    """Refuse an alias that would be wrong.

    Raises
    ------
    BadAlias
        Empty name, wrong scope, unknown parameter, another parameter's code as name, a unit that does not
        fit, the name of a driver or position field, or a pressure against the air outside as an absolute
        one. A vacuum as `MAP` passes: it is read by the barometer of the same snapshot, see `is_vacuum`.
    """
    if not alias.name:
        raise BadAlias("missing-column", "name is required.")
    if (alias.scope == "fleet") != (alias.scope_id == ""):
        raise BadAlias("alias-scope", "scope_id names the device or sheet, and is empty for scope fleet.")
    parameter = PARAMETERS.get(alias.parameter)
    if parameter is None:
        raise BadAlias("unknown-parameter", f"{alias.parameter!r} is no parameter; see the list of codes.")
    if alias.name in PARAMETERS and alias.name != alias.parameter:
        raise BadAlias("alias-is-code", f"{alias.name!r} is the code of another parameter.")
    if is_personal(alias.name):
        raise BadAlias(
            "alias-personal",
            f"{alias.name!r} names a driver or a position; such fields are dropped before they are read.",
        )
    if alias.parameter in _ABSOLUTE and _tells(_RELATIVE, alias.name):
        raise BadAlias(
            "alias-not-absolute",
            f"{alias.name!r} reads against the air outside, {alias.parameter} is absolute, and the name does "
            "not say which way it counts. Let the logger send the absolute pressure.",
        )
    if alias.parameter == "BARO" and _tells(_VACUUM, alias.name):
        raise BadAlias(
            "alias-not-absolute",
            f"{alias.name!r} reads against the air outside; it cannot be BARO itself.",
        )
    try:
        find_line(alias.unit, parameter)
    except (UnknownUnit, WrongUnit) as error:
        raise BadAlias(error.code, str(error)) from error


def is_vacuum(name: str, parameter: str) -> bool:
    """Tell whether a name mapped to a parameter is a manifold vacuum: what `MAP` lies below `BARO`.

    Examples
    --------
    >>> is_vacuum("Manifold vacuum [inHg]", "MAP"), is_vacuum("MAP", "MAP"), is_vacuum("Vacuum pump", "VPWR")
    (True, False, False)
    """
    return parameter == "MAP" and _tells(_VACUUM, name)


def _tells(what: re.Pattern[str], name: str) -> bool:
    return any(what.fullmatch(word) for word in _WORDS.findall(name))


class AliasTable:
    """Names of parameters by scope.

    Parameters
    ----------
    meanings : dict of (scope, scope_id, name) to (code, unit)
        Checked aliases; build with `from_rows`.
    """

    __slots__ = ("_devices", "_meanings", "_sheets")

    def __init__(self, meanings: dict[tuple[str, str, str], Meaning] | None = None) -> None:
        self._meanings = dict(meanings or {})
        self._devices = frozenset(owner for scope, owner, _ in self._meanings if scope == "device")
        self._sheets = frozenset(owner for scope, owner, _ in self._meanings if scope == "sheet")

    @classmethod
    def from_rows(cls, rows: Iterable[Alias], sheets: Iterable[SpecSheet] = ()) -> "AliasTable":
        """Build a table from alias rows and from the aliases that spec sheets carry.

        A row of the alias file wins over the sheet's own alias of the same name: it was put there later, by
        a person who saw the sheet.

        Raises
        ------
        BadAlias
            As for `check_alias`, or the same name twice in one scope (``alias-repeated``).

        Examples
        --------
        >>> row = Alias(scope="fleet", scope_id="", name="Coolant", parameter="ECT", unit="degF")
        >>> AliasTable.from_rows([row]).resolve("Coolant")
        ('ECT', 'degF')
        """
        meanings: dict[tuple[str, str, str], Meaning] = {}
        for row in rows:
            check_alias(row)
            key = (row.scope, row.scope_id, row.name)
            if meanings.setdefault(key, (row.parameter, row.unit)) != (row.parameter, row.unit):
                raise BadAlias("alias-repeated", f"{row.name!r} stands twice in scope {row.scope}.")
        for sheet in sheets:
            for alias in list_sheet_aliases(sheet):
                check_alias(alias)
                meanings.setdefault(("sheet", sheet.sheet, alias.name), (alias.parameter, alias.unit))
        return cls(meanings)

    def narrow(self, device: str, sheet: str) -> tuple[str, str]:
        """Reduce device and sheet to what makes a difference here: empty where no alias is theirs."""
        return (device if device in self._devices else "", sheet if sheet in self._sheets else "")

    def has_scopes(self) -> bool:
        """Tell whether any alias belongs to a device or a sheet."""
        return bool(self._devices or self._sheets)

    def resolve(self, name: str, device: str = "", sheet: str = "") -> Meaning | None:
        """Find parameter code and unit of a name; the unit is empty for the default one.

        Returns
        -------
        tuple of str or None
            (code, unit); None where nothing explains the name.
        """
        for key in (("device", device, name), ("sheet", sheet, name), ("fleet", "", name)):
            found = self._meanings.get(key)
            if found:
                return found
        return (name, "") if name in PARAMETERS else None

    def read_header(self, text: str, device: str = "", sheet: str = "") -> Meaning | None:
        """Find parameter code and unit of a column header such as ``Coolant [degF]``.

        The whole text is tried first, then name and bracket apart. The unit may be one that is not accepted:
        the values then say so.

        Examples
        --------
        >>> AliasTable().read_header("ECT [degF]")
        ('ECT', 'degF')
        """
        whole = self.resolve(text, device, sheet)
        if whole:
            return whole
        name, unit = split_unit(text)
        found = self.resolve(name, device, sheet)
        if found is None or not unit:
            return found
        return found[0], unit


def list_sheet_aliases(sheet: SpecSheet) -> tuple[Alias, ...]:
    """List a spec sheet's own aliases as alias rows of scope sheet."""
    return tuple(
        Alias(scope="sheet", scope_id=sheet.sheet, name=name, parameter=code)
        for name, code in sheet.aliases.items()
    )


def read_aliases(body: bytes, kind: str) -> Loaded[Alias]:
    """Read an alias file: columns ``scope, scope_id, name, parameter, unit``.

    Parameters
    ----------
    body : bytes
        The file.
    kind : {"csv", "json"}
        JSON is an array or ``{"aliases": [...]}``.

    Raises
    ------
    UnknownKind, UnreadableBody
        The file as a whole cannot be read.
    """
    seen: set[tuple[str, str, str]] = set()

    def build(item: Item) -> Alias:
        alias = _build(item)
        key = (alias.scope, alias.scope_id, alias.name)
        if key in seen:
            raise BadItem("alias-repeated", "name", f"{alias.name!r} stands twice in scope {alias.scope}.")
        seen.add(key)
        return alias

    return load(read_listing(body, kind, "aliases", COLUMNS), COLUMNS, build, vehicle="")


def _build(item: Item) -> Alias:
    scope = take_word(item, "scope", SCOPES, required=True)
    alias = Alias(
        scope=cast(Literal["device", "sheet", "fleet"], scope),
        scope_id=take_text(item, "scope_id"),
        name=take_text(item, "name", required=True),
        parameter=take_text(item, "parameter", required=True),
        unit=take_text(item, "unit"),
    )
    check_alias(alias)
    return alias
