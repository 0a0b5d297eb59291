"""The real application on a free port of this machine, in a thread; and the browser's flags."""

import socket
import threading
import time
from pathlib import Path
from types import TracebackType
from typing import Self

import uvicorn

from server.app import create_app
from server.settings import Settings
from server.store.log import Event, Store

HOST = "127.0.0.1"
PATIENCE_S = 20.0
FLAGS = (
    "--no-sandbox",  # as root, Chromium starts in no other way
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


class Serving:
    """A server that can be ended and started again on the same port and the same records."""

    def __init__(self, data_folder: Path) -> None:
        self.settings = Settings(data_folder=data_folder)
        self._port = 0

    @property
    def address(self) -> str:
        return f"http://{HOST}:{self._port}"

    @property
    def store(self) -> Store:
        """The records, as the server has them."""
        store: Store = self._app.state.store
        return store

    def events(self, attempt_id: str, kind: str = "") -> list[Event]:
        """Return an attempt's log, or what is of one kind in it."""
        return [one for one in self.store.events(attempt_id) if kind in ("", one.kind)]

    def start(self) -> None:
        """Listen, and wait until it answers."""
        # The protocol is named because the event loop sends small answers at once only then.
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((HOST, self._port))
        listener.listen(128)
        self._port = listener.getsockname()[1]
        self._app = create_app(self.settings)
        self._server = uvicorn.Server(
            uvicorn.Config(self._app, log_config=None, timeout_graceful_shutdown=1)
        )
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [listener]}, daemon=True
        )
        self._thread.start()
        until = time.monotonic() + PATIENCE_S
        while not self._server.started:
            if time.monotonic() > until or not self._thread.is_alive():
                raise RuntimeError("the server did not start")
            time.sleep(0.01)

    def stop(self) -> None:
        """End it as Ctrl-C does."""
        self._server.should_exit = True
        self._thread.join(PATIENCE_S)
        assert not self._thread.is_alive(), "the server did not end"

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()
