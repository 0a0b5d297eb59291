"""How true the engine is: its validation table, computed once for an engine version and kept.

Nothing of any case is in it.
"""

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

from pydantic import TypeAdapter

from optics import ENGINE_VERSION
from optics.validation.curves import Plot, all_plots
from optics.validation.row import Result
from optics.validation.sample import drawn_sample
from optics.validation.table import all_rows, ours_text
from server.keeper import Keeper, Pause, Told


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


class EvidenceKeeper(Keeper[Evidence]):
    """Keeps the evidence of an engine version."""

    def __init__(self, folder: Path, gather: Callable[[Pause, Told], Evidence] = gathered) -> None:
        file = folder / f"how-true-{ENGINE_VERSION}.json"
        super().__init__(file, total=len(all_rows()), name="evidence")
        self._gather = gather

    def compute(self, pause: Pause, told: Told) -> Evidence:
        """Return the evidence."""
        return self._gather(pause, told)

    def as_bytes(self, kept: Evidence) -> bytes:
        """Return the evidence as JSON."""
        return json.dumps(asdict(kept), allow_nan=False).encode()

    def from_bytes(self, raw: bytes) -> Evidence | None:
        """Return evidence that was kept, if it is of this table."""
        evidence = STORED.validate_json(raw)
        now = [(row.condition, row.wanted.text) for _, row in all_rows()]
        kept = [(row.condition, row.published) for row in evidence.rows]
        return evidence if kept == now and evidence.engine == ENGINE_VERSION else None
