"""Lines between browser and server that are slow, cut, or break in the middle."""

import re
import socket
import threading
from collections.abc import Callable
from contextlib import suppress

from playwright.sync_api import Page, Route


class Line:
    """What goes over the line to the server, and a way to cut it."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.parts: list[tuple[int, int]] = []
        """Each part that was sent: its first byte and the one after its last."""
        self.cut_after: int | None = None
        page.route(re.compile("/api/uploads/."), self._pass)

    def _pass(self, route: Route) -> None:
        if self.cut_after is not None and len(self.parts) >= self.cut_after:
            route.abort("connectionreset")
            return
        if route.request.method == "PATCH":
            start = int(route.request.headers["upload-offset"])
            self.parts.append((start, start + len(route.request.post_data_buffer or b"")))
        route.continue_()


class Wire:
    """A stretch of network between browser and server that can break in the middle of anything.

    Parameters
    ----------
    port
        The server's.
    """

    def __init__(self, port: int) -> None:
        self._port = port
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        self._open: list[socket.socket] = []
        self._threads: list[threading.Thread] = []
        self._left: int | None = None
        self.broken = threading.Event()
        self._run(self._accept)

    def break_after(self, sent_bytes: int) -> None:
        """Break once the browser sent so much more, and stay broken until mended."""
        self._left = sent_bytes

    def cut(self) -> None:
        """Break now, also for what keeps a connection open."""
        self.broken.set()
        self._hang_up()

    def mend(self) -> None:
        self._left = None
        self.broken.clear()

    def close(self) -> None:
        # What waits for the next connection wakes up by this, and by closing alone would not.
        self._listener.shutdown(socket.SHUT_RDWR)
        self._hang_up()
        for thread in self._threads:
            thread.join(30)
        for one in (self._listener, *self._open):
            one.close()

    def _run(self, what: Callable[..., None], *arguments: object) -> None:
        thread = threading.Thread(target=what, args=arguments, daemon=True)
        self._threads.append(thread)
        thread.start()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                browser, _ = self._listener.accept()
                self._open.append(browser)
                if self.broken.is_set():
                    browser.shutdown(socket.SHUT_RDWR)
                    continue
                server = socket.create_connection(("127.0.0.1", self._port))
                self._open.append(server)
                self._run(self._carry, browser, server, True)
                self._run(self._carry, server, browser, False)

    def _carry(self, one: socket.socket, other: socket.socket, counted: bool) -> None:
        with suppress(OSError):
            while data := one.recv(4096):
                if counted and self._left is not None:
                    other.sendall(data[: self._left])
                    self._left = max(0, self._left - len(data))
                    if not self._left:
                        self.broken.set()
                        self._hang_up()
                        return
                else:
                    other.sendall(data)
            other.shutdown(socket.SHUT_WR)

    def _hang_up(self) -> None:
        for one in list(self._open):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)


class Slow:
    """A line of one megabyte a second, so that there is a middle to be in; or none at all."""

    def __init__(self, page: Page) -> None:
        self._session = page.context.new_cdp_session(page)
        self._session.send("Network.enable")
        self.offline(gone=False)

    def offline(self, *, gone: bool) -> None:
        self._session.send(
            "Network.emulateNetworkConditions",
            {
                "offline": gone,
                "latency": 0,
                "downloadThroughput": -1,
                "uploadThroughput": 1_000_000,
            },
        )
