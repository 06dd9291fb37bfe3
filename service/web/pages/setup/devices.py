"""Devices and tokens in the setup: issue, replace, end; and which device sits in which vehicle."""

import re
import shlex
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import msgspec
from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.setup.devices import DeviceLine, Issued, SetupDevicesView, TokenLine, TypedToken
from dashboards.setup.parts import Fault
from service.auth import issue
from service.auth.errors import WrongToken
from service.auth.tokens import SCOPES, ApiToken
from service.store import AlreadyThere, NotFound, TokenUse, Work
from service.web.forms import Form, go, read_form
from service.web.keys import replace_token
from service.web.pages.frames import make_frame, show, today_of, zone_of
from service.web.readers import allow, reader_of
from service.web.shell import Shell, shell_of
from service.web.wire import day_date

router = APIRouter(dependencies=[Depends(allow("devices"))])

OVERLAP: Final = timedelta(days=7)
"""How long a replaced token still works; chosen by us: a week to reach every logger."""

SHOWN: Final = 200
"""Devices listed; chosen by us: a small fleet's all, and the doubtful ones of any."""

CLOCK_OFF_S: Final = 300.0
"""A clock further off than this is told; beyond it readings ahead of us are quarantined."""


@router.get("/setup/devices")
def devices_page(request: Request) -> HTMLResponse:
    """List tokens and devices, for the integrator."""
    return _show(request)


@router.post("/setup/devices")
def issue_token(request: Request, form: Form = Depends(read_form)) -> HTMLResponse:
    """Issue a token and show its secret this once."""
    wanted = tuple(one for one in re.split(r"[,;\s]+", form.get("vehicles")) if one)
    typed = TypedToken(name=form.get("name"), scopes=form.all("scope"), vehicles=form.get("vehicles"))
    shell, who = shell_of(request), reader_of(request).login
    now = shell.clock.now()
    with shell.store.begin() as work:
        known = {one.vehicle for one in work.vehicles(wanted)} if wanted else set()
        unknown = [one for one in wanted if one not in known]
        if unknown:
            fault = Fault(field="vehicles", text=f"Nobody registered a vehicle {unknown[0]!r}.")
            return _show(request, typed=typed, faults=[fault])
        try:
            secret, token = issue(typed.name, typed.scopes, now=now, vehicles=wanted)
            work.put_token(token)
        except WrongToken as err:
            field = {"scopes": "scope"}.get(err.field, err.field)
            return _show(request, typed=typed, faults=[Fault(field=field, text=str(err))])
        except AlreadyThere as err:
            return _show(request, typed=typed, faults=[Fault(field="name", text=str(err))])
        work.log_event(
            at=now, who=who, what="token issued", subject=token.name, after=", ".join(token.scopes)
        )
        work.commit()
    return _show(request, issued=_issued(request, secret, token, now))


@router.post("/setup/devices/rotate")
def rotate_token(request: Request, form: Form = Depends(read_form)) -> HTMLResponse:
    """Replace a token; the one before works for a while longer."""
    shell, who = shell_of(request), reader_of(request).login
    now, name = shell.clock.now(), form.get("name")
    until = now + OVERLAP
    with shell.store.begin() as work:
        secret, token, _ = replace_token(work, name, until=until, now=now, who=who)
        work.commit()
    return _show(request, issued=_issued(request, secret, token, now, until))


@router.post("/setup/devices/revoke")
def revoke_token(request: Request, form: Form = Depends(read_form)) -> Response:
    """End a token at once."""
    shell, who = shell_of(request), reader_of(request).login
    now, name = shell.clock.now(), form.get("name")
    with shell.store.begin() as work:
        work.revoke_token(name, now)
        work.log_event(at=now, who=who, what="token revoked", subject=name)
        work.commit()
    return go("/setup/devices", saved="token_ended")


@router.post("/setup/devices/move")
def move_device(request: Request, form: Form = Depends(read_form)) -> Response:
    """Say that a device sits in another vehicle from a day on."""
    shell, who = shell_of(request), reader_of(request).login
    device, vehicle, now = form.get("device"), form.get("vehicle"), shell.clock.now()
    faults = []
    try:
        since = date.fromisoformat(form.get("since"))
    except ValueError:
        since = now.date()
        faults.append(Fault(field="since", text="Say from which day on, as YYYY-MM-DD."))
    if not device:
        faults.append(Fault(field="device", text="Which device?"))
    with shell.store.begin() as work:
        try:
            work.put_device(device, vehicle, since=since, now=now, who=who)
        except NotFound:
            faults.append(Fault(field="vehicle", text=f"Nobody registered a vehicle {vehicle!r}."))
        if not faults:
            text = f"{vehicle} from {since}"
            work.log_event(at=now, who=who, what="device moved", subject=device, after=text)
            work.commit()
    if faults:
        return _show(request, faults=faults)
    return go("/setup/devices", saved="device_moved")


def clock_minutes(use: TokenUse) -> float | None:
    """Give the minutes that a sender's clock is ahead where that is worth telling; None otherwise."""
    offset = use.clock_offset_s
    return None if offset is None or abs(offset) <= CLOCK_OFF_S else offset / 60.0


def _issued(
    request: Request, secret: str, token: ApiToken, now: datetime, until: datetime | None = None
) -> Issued:
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        vehicles = token.vehicles or tuple(one.vehicle for one in work.vehicles()[-1:])
    sends = bool({"send", "admin"} & set(token.scopes)) and bool(vehicles)
    vehicle = vehicles[0] if sends else ""
    return Issued(
        name=token.name,
        secret=secret,
        command=sample_command(str(request.base_url), secret, token.name, vehicle, now) if sends else "",
        vehicle=vehicle,
        overlap_until=None if until is None else until.astimezone(zone_of(shell)),
    )


def sample_command(base: str, secret: str, device: str, vehicle: str, now: datetime) -> str:
    """Write a command that sends one reading.

    Parameters
    ----------
    base : str
        Address of the service, ending in a slash.
    secret : str
        The token.
    device, vehicle : str
        Who sends, for which vehicle.
    now : datetime
        Time taken of the reading, aware.
    """
    body = {
        "vehicle": vehicle,
        "taken_at": now.replace(microsecond=0).isoformat(),
        "state": "warm_idle",
        "device": device,
        "values": {"RPM": 740, "ECT": 90, "VPWR": 14.2, "FUELSYS1": "CL"},
    }
    return " \\\n  ".join(
        (
            f"curl -s {shlex.quote(base + 'api/v1/snapshots')}",
            f"-H {shlex.quote(f'Authorization: Bearer {secret}')}",
            "-H 'Content-Type: application/json'",
            f"-d {shlex.quote(msgspec.json.encode(body).decode())}",
        )
    )


def _show(
    request: Request,
    *,
    issued: Issued | None = None,
    typed: TypedToken | None = None,
    faults: Iterable[Fault] = (),
) -> HTMLResponse:
    shell = shell_of(request)
    errors = tuple(faults)
    with shell.store.begin(readonly=True) as work:
        devices = _devices(work)
        view = SetupDevicesView(
            issued=issued,
            tokens=_tokens(shell, work),
            devices=tuple(devices[:SHOWN]),
            more=max(0, len(devices) - SHOWN),
            vehicles=tuple(one.vehicle for one in work.vehicles()),
            scopes=SCOPES,
            typed=typed or TypedToken(),
            errors=errors,
            today=today_of(shell).isoformat(),
        )
    answer = show(view, make_frame(request, "Devices and tokens"), 422 if errors else 200)
    if issued is not None:
        answer.headers["cache-control"] = "no-store"
    return answer


def _tokens(shell: Shell, work: Work) -> tuple[TokenLine, ...]:
    now, zone = shell.clock.now(), zone_of(shell)
    uses = {one.name: one for one in work.token_uses()}
    lines = []
    for token in work.tokens():
        use = uses[token.name]
        lines.append(
            TokenLine(
                name=token.name,
                prefix=token.prefix,
                scopes=token.scopes,
                vehicles=token.vehicles,
                seen_at=_local(use.seen_at, zone),
                clock_minutes=clock_minutes(use),
                expires_at=_local(token.expires_at, zone),
                ended=token.has_ended(now),
            )
        )
    return tuple(sorted(lines, key=lambda line: (line.ended, line.name)))


def _local(moment: datetime | None, zone: ZoneInfo) -> datetime | None:
    return None if moment is None else moment.astimezone(zone)


def _devices(work: Work) -> list[DeviceLine]:
    """List which device sat where: what a person says, and what readings say; doubts where they differ."""
    told = {(one.device, one.vehicle, one.since): one for one in work.device_links()}
    now_in = {one.device: one for one in told.values() if one.until is None}
    lines = []
    for vehicle, starts in work.device_starts().items():
        for place, (day, device) in enumerate(starts):
            later = starts[place + 1][0] if place + 1 < len(starts) else None
            since = day_date(day)
            link = told.get((device, vehicle, since))
            until = link.until if link is not None else None if later is None else day_date(later - 1)
            said = now_in.get(device)
            differs = said is not None and said.vehicle != vehicle and until is None
            lines.append(
                DeviceLine(
                    device=device,
                    vehicle=vehicle,
                    since=since,
                    until=until,
                    told=link is not None,
                    doubt=f"It is said to be in {said.vehicle}" if said is not None and differs else "",
                )
            )
    return sorted(lines, key=lambda line: (not line.doubt, line.device, line.since, line.vehicle))
