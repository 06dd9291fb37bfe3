"""How long a sign-in lasts: asked without using it, put off only by its owner."""

import re
from datetime import timedelta

from service.auth.sessions import COOKIE
from tests.service.web.conftest import Service
from tests.service.web.test_sign_in import Desk


def test_asking_is_no_use(service: Service) -> None:
    """Asking how long is left changes nothing: a tab left open is signed out in time."""
    desk = Desk(service)
    desk.enter()
    desk.move(timedelta(minutes=40))

    assert desk.client.get("/sign-in/left").json() == {"left_s": 1200, "can_stay": True}
    desk.move(timedelta(minutes=15))
    assert desk.client.get("/sign-in/left").json() == {"left_s": 300, "can_stay": True}
    desk.move(timedelta(minutes=6))
    assert desk.client.get("/sign-in/left").json() == {"left_s": 0, "can_stay": False}


def test_staying_puts_the_end_off(service: Service) -> None:
    """Whoever says so goes on; the longest time stays what it is."""
    desk = Desk(service)
    desk.enter()
    token = _token(desk)
    desk.move(timedelta(minutes=56))

    assert desk.client.post("/sign-in/stay", data={"token": token}).json() == {
        "left_s": 3600,
        "can_stay": True,
    }
    for _ in range(12):
        desk.move(timedelta(minutes=55))
        told = desk.client.post("/sign-in/stay", data={"token": token}).json()
    assert told == {"left_s": 240, "can_stay": False}
    desk.move(timedelta(minutes=5))
    assert desk.client.get("/week", follow_redirects=False).status_code == 303


def test_nobody_has_nothing_left(service: Service) -> None:
    """A browser without a sign-in, or with one that has ended, is told nothing else."""
    client = service.stranger()
    assert client.get("/sign-in/left").json() == {"left_s": 0, "can_stay": False}

    client.cookies.set(COOKIE, "made-up")
    assert client.get("/sign-in/left").json() == {"left_s": 0, "can_stay": False}


def test_pages_bring_the_time_along(service: Service) -> None:
    """Pages of somebody signed in say how long that lasts; others say nothing and load no script for it."""
    desk = Desk(service)
    assert "session.js" not in desk.client.get("/help").text
    desk.enter()

    page = desk.client.get("/help").text

    assert 'data-left="3600" data-idle="3600" data-stay="1" data-login="ann"' in page
    assert "/static/session.js?v=" in page


def _token(desk: Desk) -> str:
    found = re.search(r'name="token" value="([^"]+)"', desk.client.get("/help").text)
    assert found is not None
    return found[1]
