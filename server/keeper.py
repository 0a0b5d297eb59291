"""What takes tens of seconds to compute: done once in the background and kept as a file.

The work is done at the first request by one thread of low priority, and its result stands
beside the database. A damaged file, or one of another kind, is computed anew.
"""

import logging
import os
import sys
import threading
import time
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

logger = logging.getLogger(__name__)

BREATH_S = 0.002  # between two pieces of work, so that requests come first
LOW_PRIORITY = 15
CLOSING_S = 5.0

Kept = TypeVar("Kept")
Pause = Callable[[], None]
Told = Callable[[int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far the work has come; ``failed`` when it broke off."""

    done: int
    total: int
    failed: bool = False


class _Closing(Exception):  # noqa: N818 -- no fault: the server is going down
    """The work is to end."""


class Keeper(ABC, Generic[Kept]):
    """Computes something once, keeps it, and says how far it is."""

    def __init__(self, file: Path, *, total: int, name: str) -> None:
        self._file, self._total, self._name = file, total, name
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None
        self._kept: Kept | None = None
        self._progress = Progress(done=0, total=total)

    @abstractmethod
    def compute(self, pause: Pause, told: Told) -> Kept:
        """Do the work; call ``pause`` between its pieces, ``told`` hears how many are done."""

    @abstractmethod
    def as_bytes(self, kept: Kept) -> bytes:
        """Return what the file holds."""

    @abstractmethod
    def from_bytes(self, raw: bytes) -> Kept | None:
        """Return what a file holds; None, or ValueError, where that is not what is wanted."""

    def ask(self, *, begin: bool) -> Kept | Progress:
        """Return what is kept, or how far the work is; ``begin`` it if nobody has."""
        with self._lock:
            if self._kept is None and self._thread is None and begin:
                self._kept = self._stored()
                if self._kept is None:
                    self._start()
            return self._kept or self._progress

    def close(self) -> None:
        """End the work."""
        self._closing.set()
        if self._thread is not None:
            self._thread.join(CLOSING_S)

    def _start(self) -> None:
        self._progress = Progress(done=0, total=self._total)
        self._thread = threading.Thread(target=self._work, name=self._name, daemon=True)
        self._thread.start()

    def _work(self) -> None:
        if sys.platform == "linux":  # there a thread has a priority of its own
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), LOW_PRIORITY)
        try:
            kept = self.compute(self._pause, self._told)
        except _Closing:
            return
        except Exception:
            logger.exception("%s could not be computed", self._file.name)
            with self._lock:
                self._thread = None
                self._progress = Progress(done=0, total=self._total, failed=True)
            return
        self._store(kept)
        with self._lock:
            self._kept, self._thread = kept, None

    def _pause(self) -> None:
        if self._closing.is_set():
            raise _Closing
        time.sleep(BREATH_S)

    def _told(self, done: int) -> None:
        self._progress = Progress(done=done, total=self._total)

    def _stored(self) -> Kept | None:
        """Return what the file holds, if it is whole and what is wanted."""
        try:
            return self.from_bytes(self._file.read_bytes())
        except FileNotFoundError:
            return None
        except (OSError, ValueError) as fault:
            logger.warning("%s is computed anew: %s", self._file.name, type(fault).__name__)
            return None

    def _store(self, kept: Kept) -> None:
        part = self._file.with_suffix(f".{os.getpid()}.part")
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            part.write_bytes(self.as_bytes(kept))
            part.replace(self._file)
        except OSError as fault:
            logger.warning("%s cannot be kept: %s", self._file.name, fault.strerror)
