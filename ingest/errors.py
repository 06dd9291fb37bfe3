"""What can go wrong as a whole: a body, a unit, an alias; single bad rows are values, not errors.

IngestError
    UnreadableBody      the body or file cannot be read as what it claims to be
    TooLarge            more bytes than are allowed, before or after unpacking
    BadCompression      gzip or zstd data that is damaged or cut off
    UnknownEncoding     a content encoding that is not offered
    UnknownKind         a file kind that is not offered
    UnknownUnit         a unit that is not in the list of accepted units
    WrongUnit           an accepted unit of another quantity
    BadAlias            an alias row that would be ambiguous or wrong
    BadResponse         a raw service 01 answer that cannot be decoded
    BadTime             a time or date that cannot be read

Each error has `code` (stable, see `ingest.codes`) and writes its own sentence.
"""

# ruff: noqa: N818  (an error here is named after the fact it states)

from collections.abc import Iterable


class IngestError(Exception):
    """Anything this room refuses as a whole."""

    code = "ingest-error"


class UnreadableBody(IngestError):
    """The body or file as a whole cannot be read.

    Parameters
    ----------
    code : str
        Stable code, such as ``csv-separator``.
    detail : str
        What is wrong and what is allowed.
    """

    def __init__(self, code: str, detail: str) -> None:
        self.code = code
        self.detail = detail
        super().__init__(detail)


class TooLarge(IngestError):
    """More bytes than are allowed."""

    code = "too-large"

    def __init__(self, limit: int, what: str = "unpacked body") -> None:
        self.limit = limit
        self.what = what
        super().__init__(f"The {what} must be at most {limit:,} bytes, and is larger.")


class RatioTooHigh(TooLarge):
    """The body unpacks to so many times its size that it looks like an attack."""

    def __init__(self, ratio: float) -> None:
        self.ratio = ratio
        IngestError.__init__(
            self, f"The body unpacks to more than {ratio:g} times its size, which is not allowed."
        )


class BadCompression(IngestError):
    """Packed data that is damaged or cut off."""

    code = "bad-compression"

    def __init__(self, encoding: str, reason: str) -> None:
        self.encoding = encoding
        self.reason = reason
        super().__init__(f"The {encoding} data cannot be unpacked: {reason}.")


class UnknownEncoding(IngestError):
    """A content encoding that is not offered."""

    code = "unknown-encoding"

    def __init__(self, encoding: str, allowed: Iterable[str]) -> None:
        self.encoding = encoding
        self.allowed = tuple(allowed)
        super().__init__(f"Encoding must be one of {', '.join(self.allowed)}, was {encoding!r}.")


class UnknownKind(IngestError):
    """A file kind that is not offered."""

    code = "unknown-kind"

    def __init__(self, kind: str, allowed: Iterable[str]) -> None:
        self.kind = kind
        self.allowed = tuple(allowed)
        super().__init__(f"Kind must be one of {', '.join(self.allowed)}, was {kind!r}.")


class UnknownUnit(IngestError):
    """A unit that is not in the list of accepted units."""

    code = "unknown-unit"

    def __init__(self, unit: str, parameter: str, allowed: Iterable[str]) -> None:
        self.unit = unit
        self.parameter = parameter
        self.allowed = tuple(allowed)
        super().__init__(f"{unit!r} is no accepted unit; {_allowed(parameter, self.allowed)}")


class WrongUnit(IngestError):
    """An accepted unit of another quantity."""

    code = "wrong-unit"

    def __init__(self, unit: str, parameter: str, allowed: Iterable[str]) -> None:
        self.unit = unit
        self.parameter = parameter
        self.allowed = tuple(allowed)
        super().__init__(f"{unit!r} does not measure {parameter}; {_allowed(parameter, self.allowed)}")


def _allowed(parameter: str, allowed: tuple[str, ...]) -> str:
    if not allowed:
        return f"{parameter} takes no unit."
    return f"{parameter} may be given in {', '.join(allowed)}."


class BadAlias(IngestError):
    """An alias row that would be ambiguous or wrong.

    Parameters
    ----------
    code : str
        Stable code, such as ``alias-repeated``.
    detail : str
        What is wrong and what is allowed.
    """

    def __init__(self, code: str, detail: str) -> None:
        self.code = code
        self.detail = detail
        super().__init__(detail)


class BadResponse(IngestError):
    """A raw service 01 answer that cannot be decoded.

    Parameters
    ----------
    code : str
        Stable code: ``service01-hex``, ``service01-length``, ``service01-pid`` or ``fuel-system-bits``.
    detail : str
        What is wrong and what is allowed.
    """

    def __init__(self, code: str, detail: str) -> None:
        self.code = code
        self.detail = detail
        super().__init__(detail)


class BadTime(IngestError):
    """A time or date that cannot be read.

    Parameters
    ----------
    code : str
        ``bad-time``, ``time-without-offset`` or ``bad-date``.
    detail : str
        What is wrong and what is allowed.
    """

    def __init__(self, code: str, detail: str) -> None:
        self.code = code
        self.detail = detail
        super().__init__(detail)
