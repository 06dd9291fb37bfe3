"""Connections of clients that are too slow, or too many, are not kept open without end."""

import asyncio
from typing import Any, Final

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S: Final = 30.0
"""Longest time for the head of a request [s]; chosen by us: one packet, even by a poor radio."""

REQUEST_S: Final = 300.0
"""Longest time for a whole request [s]; chosen by us: the largest body at a million bits a second."""

MOST_CONNECTIONS: Final = 500
"""Most connections at one time; the next is answered 503 at once. Chosen by us: half of the open files that
systems commonly allow a process, the rest is for the store."""

LOOK_S: Final = 1.0
"""How often a connection is looked at [s]."""


class PatientProtocol(H11Protocol):
    """HTTP/1.1 that closes a connection whose request has not come in time; nothing of it was kept.

    A connection that is idle between two requests is closed by the server's own rule.
    """

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to watch the connection."""
        super().connection_made(transport)
        self._began = self.loop.time()
        self._waits_for_head = True
        self._timer: asyncio.TimerHandle | None = self.loop.call_later(LOOK_S, self._look)

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop watching."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what came; its first byte begins a request."""
        if self.conn.their_state is h11.IDLE and not self._waits_for_head:
            self._began, self._waits_for_head = self.loop.time(), True
        super().data_received(data)
        if self.conn.their_state is not h11.IDLE:
            self._waits_for_head = False

    def _look(self) -> None:
        waited = self.loop.time() - self._began
        in_body = self.conn.their_state is h11.SEND_BODY
        if (self._waits_for_head and waited > HEAD_S) or (in_body and waited > REQUEST_S):
            self._timer = None
            self.transport.abort()
            return
        self._timer = self.loop.call_later(LOOK_S, self._look)


def bounds() -> dict[str, Any]:
    """Give the server's settings that bound its connections."""
    return {"http": PatientProtocol, "limit_concurrency": MOST_CONNECTIONS}
