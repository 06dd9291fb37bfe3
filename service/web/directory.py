"""What readers of snapshots must know of the fleet: its names for parameters, and who has which sheet."""

from collections.abc import Mapping
from dataclasses import dataclass

from ingest.aliases import AliasTable
from service.store import Work


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
