"""Where the service may listen while its pages ask nobody who they are."""

# ruff: noqa: N818  (an error here is named after the fact it states)

import ipaddress

from service.settings import Settings


class OpenPages(Exception):
    """The pages would be open to other machines.

    Parameters
    ----------
    host : str
        Address that the service was to listen on.
    """

    code = "pages-open"

    def __init__(self, host: str) -> None:
        self.host = host
        super().__init__(
            "The pages ask nobody who they are, so the service listens on this machine only, not on"
            f" '{host}'. Put a reverse proxy that signs people in before it and set"
            " FORELAMP_PAGES_BEHIND_PROXY=true, or listen on 127.0.0.1."
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
    """Refuse to offer open pages to other machines.

    Raises
    ------
    OpenPages
        The address is not this machine's own, and no proxy is said to stand before the pages.
    """
    if not is_loopback(settings.host) and not settings.pages_behind_proxy:
        raise OpenPages(settings.host)
