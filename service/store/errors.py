"""What can go wrong between the service and its database.

StoreError
├── WrongDatabaseUrl      the address names no database that Forelamp can use
├── StoreUnavailable      the database does not answer, or stayed locked for too long
├── SchemaMismatch        tables are older or newer than this version of Forelamp
├── ReadOnlyWork          something tried to change rows inside a read-only unit of work
├── NotFound              a named thing is not in the store
├── BadCursor             a cursor that this list did not hand out
├── StaleVersion          somebody else changed the row since it was read
├── AlreadyThere          a name that must be unique is taken
├── VehicleHeld           nothing of a vehicle may be removed while it is held
├── BackupUnusable        a backup cannot be made, is damaged, or was made by a newer version
└── RestoreRefused        somebody uses the store, or it holds something
"""

# ruff: noqa: N818  (an error here is named after the fact it states)


class StoreError(Exception):
    """Base of everything the store raises on purpose."""

    code = "store-error"


class WrongDatabaseUrl(StoreError):
    """The address names no database that Forelamp can use."""

    code = "wrong-database-url"

    def __init__(self, url: str, reason: str) -> None:
        self.url = url
        self.reason = reason
        super().__init__(
            f"Cannot use the database address {url!r}: {reason}. "
            "Allowed: sqlite:///PATH/TO/FILE or postgresql://USER@HOST/NAME."
        )


class StoreUnavailable(StoreError):
    """The database does not answer, or stayed locked for too long."""

    code = "store-unavailable"

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(f"The database cannot be used at the moment: {reason}")


class SchemaMismatch(StoreError):
    """Tables are older or newer than this version of Forelamp."""

    code = "schema-mismatch"

    def __init__(self, found: str, wanted: str) -> None:
        self.found = found
        self.wanted = wanted
        super().__init__(
            f"The database's tables are at revision {found or 'none'}, this version needs {wanted}. "
            "Run `forelamp migrate`, or use the version of Forelamp that wrote them."
        )


class ReadOnlyWork(StoreError):
    """Something tried to keep changes of a read-only unit of work."""

    code = "read-only-work"

    def __init__(self) -> None:
        super().__init__("This unit of work was begun for reading only; nothing can be committed.")


class NotFound(StoreError):
    """A named thing is not in the store."""

    code = "not-found"

    def __init__(self, kind: str, name: str) -> None:
        self.kind = kind
        self.name = name
        super().__init__(f"There is no {kind} {name!r}.")


class BadCursor(StoreError):
    """A cursor that this list, with these filters, did not hand out."""

    code = "bad-cursor"

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(
            f"The cursor cannot be used: {reason}. Start again without a cursor, "
            "or send the filters of the request that gave it."
        )


class StaleVersion(StoreError):
    """Somebody else changed the row since it was read."""

    code = "stale-version"

    def __init__(self, name: str, read: int, found: int) -> None:
        self.name = name
        self.read = read
        self.found = found
        super().__init__(f"{name!r} was read at version {read} and is now at version {found}.")


class AlreadyThere(StoreError):
    """A name that must be unique is taken."""

    code = "already-there"

    def __init__(self, kind: str, name: str) -> None:
        self.kind = kind
        self.name = name
        super().__init__(f"There is a {kind} {name!r} already.")


class VehicleHeld(StoreError):
    """Nothing of a vehicle may be removed while it is held."""

    code = "vehicle-held"

    def __init__(self, vehicle: str, reason: str) -> None:
        self.vehicle = vehicle
        self.reason = reason
        super().__init__(
            f"{vehicle} is on hold, so that nothing of it may be removed: {reason}. Lift the hold first."
        )


class BackupUnusable(StoreError):
    """A backup cannot be made, is damaged, or was made by a newer version."""

    code = "backup-unusable"

    def __init__(self, folder: str, reason: str) -> None:
        self.folder = folder
        self.reason = reason
        super().__init__(f"The backup {folder!r} cannot be used: {reason}. Nothing was changed.")


class RestoreRefused(StoreError):
    """Somebody uses the store, it holds something, or it is of another kind than the backup."""

    code = "restore-refused"

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(f"{reason}. Nothing was changed.")
