"""Forms that count once: a double tap, a retry or a reload does nothing more."""

import secrets
from collections.abc import Callable

from fastapi import Request
from starlette.responses import RedirectResponse

from service.store import Work
from service.web.errors import FormInvalid
from service.web.forms import Form, go
from service.web.readers import reader_of
from service.web.shell import shell_of

Do = Callable[[Work], tuple[str, str]]
"""Does what the form asks for; gives the address to go to, and the code of what was done."""


def new_key() -> str:
    """Make the key of one form; nobody can guess it."""
    return secrets.token_urlsafe(12)


def do_once(request: Request, form: Form, do: Do) -> RedirectResponse:
    """Do what a form asks for, in one transaction, unless its key was taken before.

    Parameters
    ----------
    request : Request
        Of the form.
    form : Form
        Holds the key that its page gave out.
    do : callable
        Runs at most once for a key. What it raises leaves the key free, so that the mended form counts.

    Returns
    -------
    RedirectResponse
        To where the first sending led.

    Raises
    ------
    FormInvalid
        The form holds no key.
    """
    key = form.get("key")
    if not key:
        raise FormInvalid("it lacks the key that its page gave it")
    shell = shell_of(request)
    with shell.store.begin() as work:
        earlier = work.take_form_key(key, shell.clock.now(), who=reader_of(request).login)
        if earlier is None:
            path, saved = do(work)
            work.keep_form_answer(key, f"{saved} {path}")
            work.commit()
        else:
            saved, _, path = earlier.partition(" ")
    return go(path or "/", saved=saved)
