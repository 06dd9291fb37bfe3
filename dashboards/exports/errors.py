"""What can be wrong with an export.

ExportError
    UnknownDataset      a dataset that is not in the dictionary
    UnknownFormat       a format that is not written
    WrongColumns        columns missing, left over, or of different lengths
    WrongValue          a value that its column's type does not allow
    ExportTooLarge      more rows than the format holds
"""

# ruff: noqa: N818  (an error here is named after the fact it states)

from collections.abc import Sequence


class ExportError(Exception):
    """Something that keeps an export from being written; `code` is stable."""

    code = "export-failed"


class UnknownDataset(ExportError):
    """A dataset that is not in the dictionary."""

    code = "unknown-dataset"

    def __init__(self, name: str, allowed: Sequence[str]) -> None:
        self.name, self.allowed = name, tuple(allowed)
        super().__init__(f"There is no dataset `{name}`; allowed are {', '.join(allowed)}.")


class UnknownFormat(ExportError):
    """A format that is not written."""

    code = "unknown-format"

    def __init__(self, name: str, allowed: Sequence[str]) -> None:
        self.name, self.allowed = name, tuple(allowed)
        super().__init__(f"There is no format `{name}`; allowed are {', '.join(allowed)}.")


class WrongColumns(ExportError):
    """Columns missing, left over, or of different lengths."""

    code = "wrong-columns"

    def __init__(self, dataset: str, what: str, names: Sequence[str]) -> None:
        self.dataset, self.what, self.names = dataset, what, tuple(names)
        super().__init__(f"Dataset `{dataset}`: {what}: {', '.join(names)}.")


class WrongValue(ExportError):
    """A value that its column's type does not allow."""

    code = "wrong-value"

    def __init__(self, column: str, row: int, value: object, wanted: str) -> None:
        self.column, self.row, self.value, self.wanted = column, row, value, wanted
        super().__init__(f"Column `{column}`, row {row}: must be {wanted} or None, was {value!r}.")


class ExportTooLarge(ExportError):
    """More rows than the format holds."""

    code = "export-too-large"

    def __init__(self, allowed: int) -> None:
        self.allowed = allowed
        super().__init__(
            f"An XLSX sheet holds {allowed:,} rows with its header and this export has more: "
            "narrow the period or the filter, or take CSV or Parquet."
        )
