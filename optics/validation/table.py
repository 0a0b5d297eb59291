"""The whole table: published values beside the engine's own, checked one after the other.

``exact`` rows must hold. Any other row that misses stands with the size of its recorded miss
and the reason, and fails when that grows. Nothing is widened to pass and nothing tuned here.
"""

from collections.abc import Callable, Iterator

from optics.validation import acuities, bands, bodies, lenses, pupils, waves
from optics.validation.row import Result, Row, Verdict
from optics.validation.sample import Sample, drawn_sample

# subject of the rows, and where they are made: a row of another subject is one more line here
SUBJECTS: tuple[tuple[str, Callable[[], Iterator[Row]]], ...] = (
    ("Waves and colour", waves.rows),
    ("Lenses", lenses.rows),
    ("Charts, pupils, accommodation", bodies.rows),
    ("Letters: sphere and cylinder", acuities.rows),
    ("Letters: pupil and light", pupils.rows),
    ("Eyes, clarity and focus", bands.rows),
)


def all_rows() -> tuple[tuple[str, Row], ...]:
    """Return every row in order, each with its subject."""
    return tuple((subject, row) for subject, rows in SUBJECTS for row in rows())


def run_table(write: Callable[[str], None], sample: Sample | None = None) -> int:
    """Write the table row by row; return 1 if a row failed, else 0."""
    sample = sample or drawn_sample()
    failed, known = 0, 0
    last = ""
    for subject, row in all_rows():
        if subject != last:
            write(f"\n{subject}")
            last = subject
        result = row.checked(sample)
        failed += result.verdict is Verdict.FAILED
        known += result.verdict is Verdict.KNOWN
        write(_line(result))
    write(f"\n{len(all_rows())} rows, {known} known misses, {failed} failed")
    return 1 if failed else 0


def ours_text(result: Result) -> str:
    """Return the engine's value with as many decimals as the published one."""
    return f"{result.ours + 0.0:.{3 if abs(result.ours) < 10 else 2}f}"


def verdict_text(result: Result) -> str:
    """Return the verdict, with the size of a miss."""
    if result.miss == 0.0:
        return str(result.verdict)
    return f"{result.verdict} by {result.miss:.3f}"


def _line(result: Result) -> str:
    row = result.row
    memory = "  (asked of memory)" if row.source.from_memory else ""
    reason = f"; {row.reason}" if result.miss else ""
    return (
        f"  {row.group:10} {row.condition:66} {row.wanted.text:>18} {ours_text(result):>8}"
        f" {row.unit:9} {verdict_text(result):22} {row.source.name}{memory};"
        f" catches: {row.catches}{reason}"
    )
