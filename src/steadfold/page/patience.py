"""Connections that say nothing, or never come to the end of a request, are closed after a while."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

PATIENCE_S = 15.0
"""A request line and its headers come within this time, or not at all."""


class PatientProtocol(H11Protocol):
    """HTTP/1.1 that waits for the head of a request only so long."""

    patience_s = PATIENCE_S
    _waiting: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """A new connection: its time begins."""
        super().connection_made(transport)
        self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """A connection that is gone needs no patience."""
        self._stop_waiting()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """What came in; while a request is being answered, its own limits count."""
        super().data_received(data)
        if self._answering():
            self._stop_waiting()
        elif self._waiting is None:
            self._wait()

    def _answering(self) -> bool:
        return self.cycle is not None and not self.cycle.response_complete

    def _wait(self) -> None:
        self._waiting = self.loop.call_later(self.patience_s, self._give_up)

    def _stop_waiting(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _give_up(self) -> None:
        self._waiting = None
        transport: Any = self.transport
        # A WebSocket has taken the connection over: its protocol pings for itself.
        ours = transport is not None and transport.get_protocol() is self
        if ours and not self._answering() and not transport.is_closing():
            transport.close()
