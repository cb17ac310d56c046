"""The server: waitress, with bounds on headers, bodies, connections and slow clients.

A request takes a thread only once it has come in whole, so a slow client holds a connection and keeps nobody from
being answered; after a while it is closed, whether it is silent or sends a byte now and then.
"""

from __future__ import annotations

from collections.abc import Sequence
from socket import socket
from time import monotonic
from typing import Any

from flask import Flask
from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer, create_server

from advisor.doors.access.limits import KB, LONGEST_UPLOAD

THREADS = 32
"""More than one grower's requests can hold (``Limits.inside``), so that another is answered beside them."""
LONGEST_HEADERS = 16 * KB
"""Of the address and all headers of a request. [bytes]"""
MOST_CONNECTIONS = 500
SILENT_S = 60
REQUEST_S = 300.0
"""How long a request may take to come in: a file of a garden over one bar of signal. [s]"""


class Channel(HTTPChannel):  # type: ignore[misc]  # waitress has no types
    """A connection that is closed when one request takes too long to come in, however busily it trickles."""

    request_s = REQUEST_S
    _coming: Any = None
    _since = 0.0

    def readable(self) -> bool:
        """Return whether more is read; asked by the server's loop at least once a second."""
        if self.request is not self._coming:
            self._coming, self._since = self.request, monotonic()
        if self._coming is not None and monotonic() - self._since > self.request_s:
            self.will_close = True
        return bool(super().readable())


def make_server(
    app: Flask, host: str, port: int, *, sockets: Sequence[socket] = (), behind_proxy: bool = False,
    request_s: float = REQUEST_S, **more: Any,
) -> Any:  # fmt: skip
    """Return a server that is bound and not yet running: to ``sockets`` where there are some, else to host and port.

    ``more`` are settings of waitress, for tests.
    """
    channels: dict[int, Any] = {}
    settings = {
        "threads": THREADS,
        "connection_limit": MOST_CONNECTIONS,
        "channel_timeout": SILENT_S,
        "cleanup_interval": 5,
        "max_request_header_size": LONGEST_HEADERS,
        "max_request_body_size": LONGEST_UPLOAD,
        "clear_untrusted_proxy_headers": not behind_proxy,
        "asyncore_use_poll": True,  # select cannot look at more than 1024 files
        "ident": None,
        **more,
    }
    where: dict[str, Any] = {"sockets": list(sockets)} if sockets else {"host": host, "port": port}
    server = create_server(app, map=channels, **where, **settings)
    patient = type("Patient", (Channel,), {"request_s": request_s})
    for one in channels.values():
        if isinstance(one, BaseWSGIServer):
            one.channel_class = patient
    return server
