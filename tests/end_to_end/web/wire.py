"""A wire between a device and the shop that can fail in every way a wire fails."""

import socket
import threading
from contextlib import suppress
from types import TracebackType
from typing import Self

UP, DOWN, SILENT, DEAF = "up", "down", "silent", "deaf"
# Down: refused at once. Silent: taken, never answered, never brought. Deaf: brought to the shop, the answer is lost.
STATES = (UP, DOWN, SILENT, DEAF)


class Wire:
    """Forward a port of its own to the shop's; each device has one, so each is an origin of its own."""

    def __init__(self, port: int) -> None:
        self.shop, self.state = port, UP
        self._open: list[socket.socket] = []
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=50)
        self.port = int(self._listener.getsockname()[1])
        self._taking = threading.Thread(target=self._take, daemon=True)
        self._taking.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._taking.join()
        self._hang_up()

    def turn(self, state: str) -> None:
        """Make the wire good or bad from now on; what is under way breaks off."""
        self.state = state
        self._hang_up()

    def _hang_up(self) -> None:
        for each in self._open:
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
        self._open.clear()

    def _take(self) -> None:
        with self._listener, suppress(OSError):
            while True:
                device, _ = self._listener.accept()
                threading.Thread(target=self._carry, args=(device, self.state), daemon=True).start()

    def _carry(self, device: socket.socket, state: str) -> None:
        with device:
            self._open.append(device)
            if state == SILENT:
                _pump(device, None)
            if state not in {UP, DEAF}:
                return
            with suppress(OSError), socket.create_connection(("127.0.0.1", self.shop)) as shop:
                self._open.append(shop)
                back = threading.Thread(target=_pump, args=(shop, None if state == DEAF else device), daemon=True)
                back.start()
                _pump(device, shop)
                back.join()


def _pump(source: socket.socket, target: socket.socket | None) -> None:
    """Carry what comes until it ends; to nowhere, where no target is given."""
    with suppress(OSError):
        while piece := source.recv(65536):
            if target is not None:
                target.sendall(piece)
    with suppress(OSError):
        if target is not None:
            target.shutdown(socket.SHUT_WR)
