"""Connections from one device: so many at once, and so long for a request to arrive; the others go on being served."""

import time
from typing import Any

from waitress.channel import HTTPChannel  # type: ignore[import-untyped]

MOST = 24  # at once from one address; a browser opens six
IN_ALL = 400
ARRIVES_WITHIN = 60.0  # seconds, wholly


def bounded(proxy: str = "") -> type[HTTPChannel]:
    """Make the kind of connection a server keeps; those of a proxy are many devices', and are not counted together."""

    class Connection(HTTPChannel):  # type: ignore[misc]  # the server has no types
        """A connection that is closed where a device has too many, or a request does not come to its end."""

        began: float | None = None  # when the request under way began to arrive

        def __init__(self, server: Any, sock: Any, addr: Any, adj: Any, map: Any = None) -> None:  # noqa: A002, ANN401 -- as the server makes them
            super().__init__(server, sock, addr, adj, map=map)
            self.began = time.monotonic()
            mine = [each for each in server.active_channels.values() if each.addr[0] == addr[0]]
            if len(mine) > MOST and addr[0] != proxy:
                self.will_close = True

        def received(self, data: bytes) -> bool:
            """Take what arrived, and note when a request began to."""
            if self.began is None:
                self.began = time.monotonic()
            taken: bool = super().received(data)
            if self.request is None:
                self.began = None
            return taken

        def readable(self) -> bool:
            """Say whether more may be read; called again and again, so that an idle connection is closed."""
            if self.began is not None and time.monotonic() - self.began > ARRIVES_WITHIN:
                self.will_close = True
            return bool(super().readable())

    return Connection
