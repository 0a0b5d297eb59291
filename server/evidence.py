"""How true the engine is: its validation table, computed once for an engine version and kept.

The work takes tens of seconds, so it is done at the first request by one thread of low
priority, and its result stands as a JSON file beside the database. Nothing of any case is in
it. A damaged file, or one of another table, is computed anew.
"""

import json
import logging
import os
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from optics import ENGINE_VERSION
from optics.validation.curves import Plot, all_plots
from optics.validation.row import Result
from optics.validation.sample import drawn_sample
from optics.validation.table import all_rows, ours_text

logger = logging.getLogger(__name__)

BREATH_S = 0.002  # between two pieces of work, so that requests come first
LOW_PRIORITY = 15
CLOSING_S = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedRow:
    """A row of the validation table with its outcome, as words; ``miss`` is 0 where it holds."""

    subject: str
    group: str
    condition: str
    published: str
    unit: str
    ours: str
    verdict: str
    miss: float
    source: str
    from_memory: bool
    catches: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """All that the page shows."""

    engine: str
    rows: tuple[CheckedRow, ...]
    plots: tuple[Plot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far the work has come; ``failed`` when it broke off."""

    done: int
    total: int
    failed: bool = False


Pause = Callable[[], None]
Told = Callable[[int], None]
STORED: TypeAdapter[Evidence] = TypeAdapter(Evidence)


def gathered(pause: Pause, told: Told) -> Evidence:
    """Return the evidence; ``told`` hears how many rows are done."""
    sample = drawn_sample(pause)
    rows = []
    for number, (subject, row) in enumerate(all_rows(), start=1):
        pause()
        rows.append(checked_row(subject, row.checked(sample)))
        told(number)
    return Evidence(engine=ENGINE_VERSION, rows=tuple(rows), plots=all_plots(sample))


def checked_row(subject: str, result: Result) -> CheckedRow:
    """Return a result as words."""
    row = result.row
    return CheckedRow(
        subject=subject,
        group=row.group.value,
        condition=row.condition,
        published=row.wanted.text,
        unit=row.unit,
        ours=ours_text(result),
        verdict=result.verdict.value,
        miss=round(result.miss, 4),
        source=row.source.name,
        from_memory=row.source.from_memory,
        catches=row.catches,
        reason=row.reason,
    )


class _Closing(Exception):  # noqa: N818 -- no fault: the server is going down
    """The work is to end."""


class EvidenceKeeper:
    """Computes the evidence once, keeps it, and says how far it is."""

    def __init__(self, folder: Path, gather: Callable[[Pause, Told], Evidence] = gathered) -> None:
        self._file = folder / f"how-true-{ENGINE_VERSION}.json"
        self._gather = gather
        self._total = len(all_rows())
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None
        self._evidence: Evidence | None = None
        self._progress = Progress(done=0, total=self._total)

    def ask(self, *, begin: bool) -> Evidence | Progress:
        """Return the evidence, or how far the work is; ``begin`` it if nobody has."""
        with self._lock:
            if self._evidence is None and self._thread is None and begin:
                self._evidence = self._stored()
                if self._evidence is None:
                    self._start()
            return self._evidence or self._progress

    def close(self) -> None:
        """End the work."""
        self._closing.set()
        if self._thread is not None:
            self._thread.join(CLOSING_S)

    def _start(self) -> None:
        self._progress = Progress(done=0, total=self._total)
        self._thread = threading.Thread(target=self._work, name="evidence", daemon=True)
        self._thread.start()

    def _work(self) -> None:
        if sys.platform == "linux":  # there a thread has a priority of its own
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), LOW_PRIORITY)
        try:
            evidence = self._gather(self._pause, self._told)
        except _Closing:
            return
        except Exception:
            logger.exception("the validation table could not be computed")
            with self._lock:
                self._thread = None
                self._progress = Progress(done=0, total=self._total, failed=True)
            return
        self._store(evidence)
        with self._lock:
            self._evidence, self._thread = evidence, None

    def _pause(self) -> None:
        if self._closing.is_set():
            raise _Closing
        time.sleep(BREATH_S)

    def _told(self, done: int) -> None:
        self._progress = Progress(done=done, total=self._total)

    def _stored(self) -> Evidence | None:
        """Return what the file holds, if it is whole and of this table."""
        try:
            evidence = STORED.validate_json(self._file.read_bytes())
        except FileNotFoundError:
            return None
        except (OSError, ValidationError) as fault:
            logger.warning("%s is computed anew: %s", self._file.name, type(fault).__name__)
            return None
        now = [(row.condition, row.wanted.text) for _, row in all_rows()]
        kept = [(row.condition, row.published) for row in evidence.rows]
        return evidence if kept == now and evidence.engine == ENGINE_VERSION else None

    def _store(self, evidence: Evidence) -> None:
        part = self._file.with_suffix(f".{os.getpid()}.part")
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            part.write_text(json.dumps(asdict(evidence), allow_nan=False), encoding="utf-8")
            part.replace(self._file)
        except OSError as fault:
            logger.warning("%s cannot be kept: %s", self._file.name, fault.strerror)
