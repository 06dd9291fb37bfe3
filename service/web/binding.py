"""Where the service may listen: no password in the clear, and a practice fleet for one machine only."""

# ruff: noqa: N818  (an error here is named after the fact it states)

import ipaddress

from service.settings import Settings


class OpenPages(Exception):
    """Other machines would reach the pages without TLS, or a practice fleet that asks nobody who they are.

    Parameters
    ----------
    host : str
        Address that the service was to listen on.
    practice : bool
        Whether it is the practice fleet.
    """

    code = "pages-open"

    def __init__(self, host: str, *, practice: bool = False) -> None:
        self.host = host
        self.practice = practice
        if practice:
            super().__init__(
                "The practice fleet asks nobody who they are, so it listens on this machine only, not on"
                f" '{host}'. Leave FORELAMP_HOST at 127.0.0.1."
            )
        else:
            super().__init__(
                f"On '{host}' other machines would send their passwords and tokens in the clear. Put a"
                " reverse proxy that speaks TLS in front and set FORELAMP_TLS_IN_FRONT=true, or listen on"
                " 127.0.0.1."
            )


def is_loopback(host: str) -> bool:
    """Tell whether only this machine can reach the address.

    Parameters
    ----------
    host : str
        Name or number of an address.

    Returns
    -------
    bool
        False for every name but `localhost`: what a name stands for can change.

    Examples
    --------
    >>> is_loopback("127.0.0.1"), is_loopback("::1"), is_loopback("fleet.example")
    (True, True, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def check_binding(settings: Settings) -> None:
    """Refuse to send passwords in the clear, and to offer a practice fleet to other machines.

    Raises
    ------
    OpenPages
        The address is not this machine's own, and no TLS is said to stand in front, or it is the practice
        fleet.
    """
    if is_loopback(settings.host):
        return
    if settings.practice or not settings.tls_in_front:
        raise OpenPages(settings.host, practice=settings.practice)
