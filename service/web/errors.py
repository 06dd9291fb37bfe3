"""What can be wrong with a request before any room has looked at it.

WebError
├── UnsupportedType       the body's content type is none that this address reads
├── UnsupportedEncoding   the body's content encoding is none that the service unpacks
├── BodyTooLarge          more bytes than the service takes, packed or unpacked
├── BodyInvalid           a JSON body that is not the message asked for
├── BadCursor             a cursor that this list did not give out, or not for these filters
├── NotFound              no such thing here
├── BadQuery              a query parameter holds something that is not allowed
├── StaleVersion          the thing has changed since the caller read it
├── NotReleasable         a held snapshot whose reason still holds
├── SignInNeeded          nobody is signed in, or the sign-in has ended
├── PasswordIssued        signed in with a password that somebody else set: it is changed first
├── TooManyRequests       more tries or requests than allowed; says when the next may come
├── RoleNotAllowed        the reader's role lacks the right that a page or form asks for
├── FormForeign           a form that did not come from a page of this service
├── FormStale             a form of an earlier visit: its token is not this visit's
├── FormInvalid           a body that is no form, or one with too many fields
└── NotReady              the service is up but cannot serve: schema older or newer than the program
"""

# ruff: noqa: N818  (an error here is named after the fact it states)

from collections.abc import Mapping, Sequence

from dashboards.words import ROLES, say


class WebError(Exception):
    """Anything wrong with a request; `code` is stable, `errors` names the places."""

    code = "request"
    errors: tuple[Mapping[str, object], ...] = ()
    further: Mapping[str, object] = {}


class UnsupportedType(WebError):
    """The body's content type is not read here."""

    code = "body-type-unsupported"

    def __init__(self, given: str, allowed: Sequence[str]) -> None:
        self.given = given
        self.allowed = tuple(allowed)
        said = f"'{given}'" if given else "missing"
        super().__init__(f"The content type is {said}; allowed here: {', '.join(self.allowed)}.")


class UnsupportedEncoding(WebError):
    """The body's content encoding is not unpacked here."""

    code = "body-encoding-unsupported"

    def __init__(self, given: str, allowed: Sequence[str]) -> None:
        self.given = given
        self.allowed = tuple(allowed)
        super().__init__(f"The content encoding is '{given}'; allowed here: {', '.join(self.allowed)}.")


class BodyTooLarge(WebError):
    """The body is larger than the service takes."""

    code = "body-too-large"

    def __init__(self, limit_bytes: int, given_bytes: int | None = None) -> None:
        self.limit_bytes = limit_bytes
        self.given_bytes = given_bytes
        said = "" if given_bytes is None else f" It announces {given_bytes:,} bytes."
        super().__init__(
            f"A body may hold {limit_bytes:,} bytes, counted unpacked.{said} Send it in several requests."
        )


class BodyInvalid(WebError):
    """A JSON body that is not the message asked for."""

    code = "body-invalid"

    def __init__(self, detail: str, pointer: str = "") -> None:
        self.errors = ({"pointer": pointer, "detail": detail},)
        super().__init__(f"The body is not the message that this address takes: {detail}.")


class BadCursor(WebError):
    """A cursor that this list did not give out for these filters."""

    code = "bad-cursor"

    def __init__(self) -> None:
        super().__init__(
            "The cursor was not given out by this list for these filters; start again without a cursor."
        )


class NotFound(WebError):
    """No such thing here."""

    code = "not-found"

    def __init__(self, what: str, name: str) -> None:
        self.what = what
        self.name = name
        super().__init__(f"There is no {what} '{name}' here.")


class BadQuery(WebError):
    """A query parameter or path part holds something that is not allowed."""

    code = "query-invalid"

    def __init__(self, name: str, given: str, allowed: str) -> None:
        self.errors = ({"parameter": name, "detail": f"'{given}' is given; allowed: {allowed}."},)
        super().__init__(f"'{name}' is '{given}'; allowed: {allowed}.")


class StaleVersion(WebError):
    """Someone changed the ticket after the caller read it."""

    code = "stale-version"

    def __init__(self, ticket: str, given: int, current: int, now_is: object) -> None:
        self.further = {"given_version": given, "current_version": current, "current": now_is}
        super().__init__(
            f"Ticket {ticket} is at version {current}; the change was made from version {given}."
            " Nothing was written: read it again, then decide again."
        )


class NotReleasable(WebError):
    """A held snapshot was to be released, but what held it back still holds."""

    code = "not-releasable"

    def __init__(self, number: int, reason: str, detail: str) -> None:
        self.further = {"reason": reason}
        super().__init__(f"Snapshot {number} stays held back. {detail}")


class SignInNeeded(WebError):
    """Nobody is signed in, or the sign-in has ended."""

    code = "sign-in-needed"

    def __init__(self) -> None:
        super().__init__("Sign in first; nothing was changed.")


class PasswordIssued(WebError):
    """The reader is signed in with a password that somebody else set."""

    code = "password-issued"

    def __init__(self) -> None:
        super().__init__("Your password was set by somebody else: choose your own first, at /account.")


class TooManyRequests(WebError):
    """More tries or requests than allowed.

    Parameters
    ----------
    retry_after_s : int
        Seconds until the next may come, at least 1.
    """

    code = "too-many-requests"

    def __init__(self, retry_after_s: int) -> None:
        self.retry_after_s = max(1, retry_after_s)
        super().__init__(f"Too many at once: the next may come in {self.retry_after_s} seconds.")


class RoleNotAllowed(WebError):
    """The reader's role lacks the right."""

    code = "role-not-allowed"

    def __init__(self, right: str, role: str, allowed: Sequence[str]) -> None:
        self.right = right
        self.role = role
        self.allowed_roles = tuple(allowed)
        have = f"Your role is {say(ROLES, role)}" if role else "You have no role here"
        super().__init__(f"{have}; this is for: {', '.join(say(ROLES, one) for one in self.allowed_roles)}.")


class FormForeign(WebError):
    """The form came from a page of another service."""

    code = "form-foreign"

    def __init__(self) -> None:
        super().__init__("The form was not sent from a page of this service. Nothing was changed.")


class FormStale(WebError):
    """The form's token is not that of the present visit.

    Parameters
    ----------
    action : str
        Address that the form was sent to.
    fields : sequence of (name, text)
        What was typed, so that it can be sent again; the token is left out.
    """

    code = "form-stale"

    def __init__(self, action: str, fields: Sequence[tuple[str, str]]) -> None:
        self.action = action
        self.fields = tuple(fields)
        super().__init__("The form is of an earlier visit. Nothing was changed, and nothing typed is lost.")


class FormInvalid(WebError):
    """The body is no form that this service reads."""

    code = "form-invalid"

    def __init__(self, detail: str) -> None:
        super().__init__(f"The form cannot be read: {detail}.")


class NotReady(WebError):
    """The service is up but cannot serve."""

    code = "schema-mismatch"

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
