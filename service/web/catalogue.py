"""Every problem that the service can answer with: code, status, title, what it means, what to do.

One row is the truth for the HTTP answer, for the API description and for the page behind the type.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One kind of problem.

    Parameters
    ----------
    code : str
        Stable; the problem's type is `/problems/{code}`.
    status : int
        HTTP status.
    title : str
        Short, the same for every occurrence.
    meaning : str
        What happened, for the person who reads the help page.
    remedy : str
        What to do about it.
    """

    code: str
    status: int
    title: str
    meaning: str
    remedy: str

    @property
    def type(self) -> str:
        """Reference of the help page, used as the problem's type."""
        return f"/problems/{self.code}"


def _row(status: int, code: str, title: str, meaning: str, remedy: str) -> Problem:
    return Problem(code=code, status=status, title=title, meaning=meaning, remedy=remedy)


_ALL: Final = (
    _row(
        400,
        "body-unreadable",
        "The body cannot be read",
        "The body as a whole is not what its content type says, so that not one item could be taken from it.",
        "Check that it is UTF-8, complete and of the announced type. One bad item in a good body is no such"
        " problem: it is listed in the answer and the others are kept.",
    ),
    _row(
        400,
        "request-unreadable",
        "The request cannot be read",
        "The request breaks a rule of HTTP itself, before anything in it could be looked at.",
        "Send it with an ordinary HTTP library; the detail says what was wrong.",
    ),
    _row(
        400,
        "compression-broken",
        "The body cannot be unpacked",
        "The body is not what its content encoding says, ends too early, or unpacks to far more than its size"
        " lets expect.",
        "Pack the body again with gzip or zstd, once, and send the header Content-Encoding with it.",
    ),
    _row(
        400,
        "bad-cursor",
        "The cursor is not valid",
        "A cursor belongs to one list, its filters and its as-of. This one was made for others, or was"
        " changed on its way.",
        "Start the list again without a cursor, then follow next_cursor and keep the filters as they were.",
    ),
    _row(
        401,
        "token-missing",
        "A token is needed",
        "The address answers only to callers who show a bearer token.",
        "Send the header Authorization: Bearer TOKEN. The service's operator issues tokens with"
        " 'forelamp token add'.",
    ),
    _row(
        401,
        "token-invalid",
        "The token is not valid",
        "The token is unknown here, was revoked, or has expired. Which of them is not told.",
        "Compare the token's first characters with the operator's list, or ask for a new one.",
    ),
    _row(
        401,
        "sign-in-needed",
        "Sign in first",
        "The page is for people with an account, and nobody is signed in here, or the sign-in has ended.",
        "Sign in. You then come to the page that you asked for, and what you typed is still there.",
    ),
    _row(
        403,
        "insufficient-scope",
        "The token does not allow this",
        "The token is valid, but it was issued for other work: send, read, work and admin are separate.",
        "Use the token that was issued for this work, or ask the operator for one with the scope named.",
    ),
    _row(
        403,
        "role-not-allowed",
        "Your role does not include this",
        "Each page and form is for certain roles. Yours is not among them, and nothing was changed.",
        "Ask somebody in one of the roles named, or have an administrator change yours.",
    ),
    _row(
        403,
        "password-issued",
        "Choose your own password first",
        "You are signed in with a password that somebody else set. It is good for one thing: choosing your"
        " own.",
        "Go to your account, choose a password, and go on.",
    ),
    _row(
        403,
        "form-foreign",
        "The form came from elsewhere",
        "Forms are taken only from pages of this service, so that another site cannot act in your name.",
        "Open the page here and send its form. If you did, the proxy in front must pass on the host name.",
    ),
    _row(
        403,
        "form-stale",
        "The form is of an earlier visit",
        "The service was started again, or you signed in anew, after the form was opened. Nothing was"
        " changed.",
        "What you typed is shown: look it over and send it again.",
    ),
    _row(
        404,
        "not-found",
        "Nothing here",
        "The address is not one of the service's, or the thing it names is not in the store.",
        "Check the spelling; vehicle and ticket numbers are case-sensitive. The lists show what there is.",
    ),
    _row(
        405,
        "method-not-allowed",
        "Not that method",
        "The address exists, but does not answer to this method.",
        "The header Allow names the methods that it answers to; the API description says what they do.",
    ),
    _row(
        409,
        "transition-not-allowed",
        "The ticket cannot do that now",
        "A ticket moves only along its life-cycle. From where it stands, this event is not possible, or not"
        " for this caller.",
        "Read the ticket again, and choose from what is possible now; it is listed with this answer.",
    ),
    _row(
        409,
        "sheet-conflict",
        "That sheet revision exists with other content",
        "A revision of a spec sheet is never edited: tickets refer to it.",
        "Send the changed sheet under a higher revision number.",
    ),
    _row(
        409,
        "not-releasable",
        "The snapshot cannot be released",
        "What held the snapshot back still holds: the vehicle is still not registered, or another snapshot"
        " stands under its identity.",
        "Remove the reason first, for instance by registering the vehicle, then release it.",
    ),
    _row(
        409,
        "vehicle-held",
        "The vehicle is on hold",
        "Somebody has put the vehicle on hold, so that nothing of it may be removed.",
        "The page /setup/retention tells who and why. Lift the hold there first, if that may be.",
    ),
    _row(
        409,
        "already-there",
        "The name is taken",
        "Something of this kind has that name already, and names are unique.",
        "Choose another name, or change the one that is there.",
    ),
    _row(
        422,
        "transition-refused",
        "The event needs more, or other, facts",
        "The ticket could take this event, but a fact that belongs to it is missing or wrong.",
        "errors names the fact and says what must hold.",
    ),
    _row(
        412,
        "stale-version",
        "The ticket has changed meanwhile",
        "Someone, or the nightly evaluation, changed the ticket after the version that this change was made"
        " from. Nothing was written and nothing is lost.",
        "The answer holds both version numbers and the ticket as it is now. Read it, then decide again.",
    ),
    _row(
        413,
        "body-too-large",
        "The body is too large",
        "One request may hold only so many bytes, counted unpacked, so that one caller cannot fill the"
        " service's memory.",
        "Send the snapshots in several requests; a thousand in one request is a good size. Big files load"
        " faster with 'forelamp load'.",
    ),
    _row(
        415,
        "body-type-unsupported",
        "Not that content type",
        "The address reads certain content types, in UTF-8, and never guesses.",
        "Send the header Content-Type with one of the types named in the answer.",
    ),
    _row(
        415,
        "body-encoding-unsupported",
        "Not that content encoding",
        "Bodies may come as they are, or packed once with gzip or zstd.",
        "Pack the body in one of these ways and say so in the header Content-Encoding.",
    ),
    _row(
        422,
        "body-invalid",
        "The body is not the message asked for",
        "The body is sound JSON, but a field is missing, of the wrong kind, or unknown.",
        "errors names each place by a JSON pointer and says what is allowed there.",
    ),
    _row(
        422,
        "account-refused",
        "The account cannot be kept so",
        "A login, role, depot or password that cannot be used, or a change after which no administrator could"
        " sign in.",
        "The detail says what is allowed. Nothing was changed.",
    ),
    _row(
        422,
        "form-invalid",
        "The form cannot be read",
        "The body is not what a form of these pages sends, or has more fields or larger ones than any of"
        " them.",
        "Open the page again and send its form with an ordinary browser.",
    ),
    _row(
        422,
        "query-invalid",
        "A parameter is not allowed so",
        "A part of the address or of its query holds something that cannot be meant.",
        "Correct the address: each part that does not fit is named, with what is allowed.",
    ),
    _row(
        422,
        "export-too-large",
        "Too many rows for this format",
        "A worksheet holds at most 1,048,576 rows, and a file that silently stops there would be wrong.",
        "Use csv or parquet, which have no such limit, or narrow the export.",
    ),
    _row(
        429,
        "too-many-requests",
        "Too many at once",
        "More tries to sign in, or more requests with one token, than the service takes in that time.",
        "Wait as many seconds as the header Retry-After says, then send the same again.",
    ),
    _row(
        500,
        "internal-error",
        "The service made a mistake",
        "Something failed that should not. It is logged under the request's id; nothing of the request"
        " was kept unless the answer said so.",
        "Send again later. If it stays, give the operator the request_id.",
    ),
    _row(
        503,
        "store-unavailable",
        "The store does not answer",
        "The service is up, but its database is not, or is too busy. Nothing of the request was kept.",
        "Wait as many seconds as the header Retry-After says, then send the same again. Sending the same"
        " snapshots twice changes nothing.",
    ),
    _row(
        503,
        "schema-mismatch",
        "The service cannot serve yet",
        "The store's schema is not the one that this program was made for.",
        "The operator runs 'forelamp migrate' with the same version of the program.",
    ),
)

PROBLEMS: Final[Mapping[str, Problem]] = {problem.code: problem for problem in _ALL}
"""Every problem by code."""
