"""Signing in through the provider of OpenID Connect that the settings name."""

from typing import TYPE_CHECKING

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from dashboards.sign_in import AwayView
from service.web.arriving import Refused, arrive, clear_away, leave, set_away
from service.web.entry import set_session
from service.web.errors import NotFound
from service.web.forms import Form, go, local, read_form
from service.web.pages.frames import make_frame, show
from service.web.pages.sign_in import CARRIED, ask, show_kept
from service.web.readers import anyone, note
from service.web.shell import whole_shell_of

if TYPE_CHECKING:
    from service.auth.provider import Provider

router = APIRouter(dependencies=[Depends(anyone)])


@router.post("/sign-in/provider")
def go_away(request: Request, form: Form = Depends(read_form)) -> Response:
    """Send the reader to the provider; for anybody.

    The answer is a page that leads there by itself, not a redirection: by the policy of the pages forms lead
    nowhere but to this service, and browsers hold redirections of a form to it too.
    """
    shell, provider = whole_shell_of(request), _provider(request)
    following = local(form.get("following"))
    action = local(form.get("again_action"), otherwise="")
    kept = tuple((name, text) for name, text in form.fields if name.startswith(CARRIED)) if action else ()
    left = leave(request, shell, provider, following=following, action=action, draft=kept)
    if isinstance(left, Refused):
        return _show_refused(request, left, following, action, kept)
    address, cookie = left
    view = AwayView(provider=shell.settings.oidc_label, address=address)
    answer = show(view, make_frame(request, "To the sign-in"))
    answer.headers["refresh"] = f"0; url={address}"
    set_away(answer, cookie, shell.settings)
    return answer


@router.get("/sign-in/return")
def come_back(request: Request) -> Response:
    """Take the reader back from the provider, then go where the reader wanted to go; for anybody.

    It is the protocol that makes a GET sign somebody in: the state in it is good for this browser, once.
    """
    shell, provider = whole_shell_of(request), _provider(request)
    result, left = arrive(request, shell, provider)
    following = local(left.following if left else "")
    action = local(left.action, otherwise="") if left else ""
    kept = left.draft if left else ()
    if isinstance(result, Refused):
        answer = _show_refused(request, result, following, action, kept)
    else:
        note(request, result.reader)
        answer = show_kept(request, kept, action) if action else go(following)
        set_session(answer, result, shell.settings)
    clear_away(answer, shell.settings)
    return answer


def _show_refused(
    request: Request, refused: Refused, following: str, action: str, kept: tuple[tuple[str, str], ...]
) -> Response:
    status = {"away": 503, "nonsense": 502, "under_way": 429}.get(refused.reason, 401)
    return ask(
        request,
        status=status,
        reason=refused.reason,
        login=refused.login,
        following=following,
        action=action,
        fields=kept,
    )


def _provider(request: Request) -> "Provider":
    found = whole_shell_of(request).provider
    if found is None:
        raise NotFound("page", request.url.path)
    return found
