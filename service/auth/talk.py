"""Talking to a sign-in provider: a few at one time, not for long, and no answer larger than any sound one."""

import ssl
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final

import httpx2
from authlib.integrations.httpx_client import OAuth2Client

from service.auth.errors import ProviderFailed

TIMEOUT_S: Final = 5.0
"""Longest wait for one answer; chosen by us: a person stands before the page."""

LARGEST_ANSWER_BYTES: Final = 1_000_000
"""Largest answer that is read; chosen by us, a hundred times the usual."""

AT_ONCE: Final = 4
"""Sign-ins that talk to the provider at one time; chosen by us: a slow provider holds up nobody else."""


class Line:
    """The way to one provider.

    Parameters
    ----------
    client : mapping of str to object
        Arguments of the client that every talk is held with.
    """

    def __init__(self, **client: Any) -> None:
        self._arguments = client
        self._free = threading.BoundedSemaphore(AT_ONCE)
        self._trusted = ssl.create_default_context()

    @contextmanager
    def talk(self) -> Iterator[OAuth2Client]:
        """Give a client for one sign-in.

        Raises
        ------
        ProviderFailed
            Too many talk to the provider already.
        """
        if not self._free.acquire(timeout=TIMEOUT_S):
            raise ProviderFailed("away", "too many at one time")
        try:
            with OAuth2Client(
                **self._arguments,
                timeout=TIMEOUT_S,
                verify=self._trusted,
                trust_env=False,  # only settings read the environment; authorities are those of the machine
                follow_redirects=False,
                headers={"accept-encoding": "identity"},
                event_hooks={"response": [_hold_small]},
            ) as client:
                yield client
        finally:
            self._free.release()


def fetch(
    client: OAuth2Client, address: str, fact: str, headers: Mapping[str, str] | None = None
) -> dict[str, Any]:
    """Fetch a JSON object.

    Parameters
    ----------
    client : OAuth2Client
        Of this talk.
    address : str
        Where it is.
    fact : str
        What it is, for the error.
    headers : mapping or None
        To send along.

    Raises
    ------
    ProviderFailed
        No answer, or another one.
    """
    try:
        answer = client.request("GET", address, withhold_token=True, headers=headers)
        answer.raise_for_status()
    except httpx2.HTTPError as err:
        raise ProviderFailed("away", fact) from err
    try:
        found = answer.json()
    except (ValueError, RecursionError) as err:
        raise ProviderFailed("nonsense", fact) from err
    if not isinstance(found, dict):
        raise ProviderFailed("nonsense", fact)
    return found


def _hold_small(answer: httpx2.Response) -> None:
    """Break off an answer that is too large, or packed although that was not asked for."""
    if answer.headers.get("content-encoding", "identity") != "identity":
        raise httpx2.DecodingError("The answer is packed.", request=answer.request)
    answer.stream = _Bounded(answer)


class _Bounded(httpx2.SyncByteStream):
    def __init__(self, answer: httpx2.Response) -> None:
        self._inner, self._request = answer.stream, answer.request

    def __iter__(self) -> Iterator[bytes]:
        size = 0
        for part in self._inner:  # type: ignore[union-attr]  # this client is not the asynchronous one
            size += len(part)
            if size > LARGEST_ANSWER_BYTES:
                raise httpx2.DecodingError("The answer is too large.", request=self._request)
            yield part

    def close(self) -> None:
        self._inner.close()  # type: ignore[union-attr]  # as above
