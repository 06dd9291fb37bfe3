"""Errors as pages: the one that a person met, and the help behind each problem's type."""

from fastapi import APIRouter, Depends, Request
from starlette.requests import Request as AnyRequest
from starlette.responses import HTMLResponse, Response
from starlette.types import Scope

from dashboards.again import AgainView, Kept
from dashboards.problem import FieldProblem, ProblemView
from service.web.catalogue import PROBLEMS
from service.web.errors import FormStale, NotFound
from service.web.pages.frames import make_frame, show
from service.web.problems import Trouble, request_id_of
from service.web.readers import anyone
from service.web.reasons import REASONS

router = APIRouter(dependencies=[Depends(anyone)])

ITEM_REMEDY = (
    "Only the item was refused; the others of its body were kept. The answer, and the list under"
    " /api/v1/refusals, name it with its place and its payload: mend it and send it again. What was held back"
    " can be released once its reason is gone."
)


@router.get("/problems/{code}")
def problem_page(request: Request, code: str) -> HTMLResponse:
    """Explain one type of problem, or one reason why an item was refused, for whoever met it."""
    title, meaning, remedy = explain(code)
    view = ProblemView(
        type=code,
        status=None,
        title=title,
        detail=meaning,
        what_to_do=remedy,
        errors=(),
        conflicts=(),
        allowed=(),
        back="",
        request_id="",
    )
    return show(view, make_frame(request, title))


def explain(code: str) -> tuple[str, str, str]:
    """Give title, meaning and remedy of a problem type or a reason code.

    Raises
    ------
    NotFound
        It is neither.
    """
    if code in PROBLEMS:
        problem = PROBLEMS[code]
        return problem.title, problem.meaning, problem.remedy
    if code not in REASONS:
        raise NotFound("problem type", code)
    return f"Refused: {code}", REASONS[code], ITEM_REMEDY


def answer_page(scope: Scope, trouble: Trouble) -> Response:
    """Answer a problem to a person.

    Parameters
    ----------
    scope : Scope
        Of the request.
    trouble : Trouble
        What went wrong.

    Returns
    -------
    Response
        A page with the problem's status. It asks nothing of the store, which may be what failed.
    """
    problem = trouble.problem
    view = ProblemView(
        type=problem.code,
        status=problem.status,
        title=problem.title,
        detail=trouble.detail,
        what_to_do=problem.remedy,
        errors=tuple(_field(one) for one in trouble.errors),
        conflicts=(),
        allowed=tuple(str(one) for one in _listed(trouble.further.get("allowed"))),
        back="/",
        request_id=request_id_of(scope),
    )
    answer = show(view, make_frame(AnyRequest(scope), problem.title), problem.status)
    answer.headers.update(trouble.headers)
    return answer


def answer_again(scope: Scope, error: FormStale) -> Response:
    """Show a form of an earlier visit again, with everything that was typed; status 403."""
    kept = tuple(Kept(name=name, text=text) for name, text in error.fields)
    title = PROBLEMS[error.code].title
    frame = make_frame(AnyRequest(scope), title)
    return show(AgainView(action=error.action, kept=kept), frame, PROBLEMS[error.code].status)


def _field(one: object) -> FieldProblem:
    facts = one if isinstance(one, dict) else {}
    where = facts.get("parameter") or facts.get("pointer") or ""
    return FieldProblem(where=str(where), text=str(facts.get("detail", "")))


def _listed(value: object) -> list[object]:
    return list(value) if isinstance(value, (list, tuple)) else []
