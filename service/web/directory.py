"""What readers of snapshots must know of the fleet: its names for parameters, and who has which sheet."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from ingest.aliases import AliasTable
from service.store import Store, Work

FEW: Final = 10
"""Vehicles that are looked up one by one before all are loaded; chosen by us: a single sender asks for one of
thousands, and those thousands would cost more than all else it asks for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """Aliases, and the sheet of each vehicle where an alias asks for it.

    Parameters
    ----------
    table : AliasTable
        Every alias, those written on spec sheets included.
    sheet_of : mapping of str to str
        Spec sheet by vehicle; empty where no alias belongs to a sheet, because nobody would look.
    """

    table: AliasTable
    sheet_of: Mapping[str, str]


def load_names(work: Work) -> Names:
    """Load what readers need, as it stands now.

    Read anew for each body, just before it is read: an alias or vehicle that another process has
    just written counts at once, and nothing can be stale. It takes two or three short statements.

    Parameters
    ----------
    work : Work
        Unit of work of the request.

    Returns
    -------
    Names
        Aliases and sheets.
    """
    table = AliasTable.from_rows(work.aliases(), work.sheets())
    return Names(table=table, sheet_of=work.sheet_of() if table.has_scopes() else {})


class SheetsAsNeeded(Mapping[str, str]):
    """The sheet of each vehicle, looked up when somebody asks: a few one by one, more than that all at once.

    Parameters
    ----------
    store : Store
        Open; each look-up is a unit of work of its own.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._found: dict[str, str] = {}
        self._asked: set[str] = set()
        self._whole = False

    def __getitem__(self, vehicle: str) -> str:
        """Give the sheet's name; a vehicle that names none is not there."""
        if not self._whole and vehicle not in self._asked:
            self._asked.add(vehicle)
            self._load(None if len(self._asked) > FEW else vehicle)
        return self._found[vehicle]

    def __iter__(self) -> Iterator[str]:
        """Go through all vehicles that name a sheet."""
        self._load(None)
        return iter(self._found)

    def __len__(self) -> int:
        """Count the vehicles that name a sheet."""
        self._load(None)
        return len(self._found)

    def _load(self, vehicle: str | None) -> None:
        if self._whole:
            return
        with self._store.begin(readonly=True) as work:
            self._found |= work.sheet_of(vehicle)
        self._whole = vehicle is None
