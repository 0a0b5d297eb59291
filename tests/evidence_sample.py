"""A finished validation table for tests of its page: the true rows, outcomes made up."""

from pathlib import Path

from optics import ENGINE_VERSION
from optics.validation.curves import Best, Curve, Plot, Point
from optics.validation.row import Group, Result, Row, Verdict
from optics.validation.table import all_rows
from server.evidence import Evidence, EvidenceKeeper, checked_row


def outcome(number: int, row: Row) -> Result:
    """Return a made-up outcome: recorded misses miss, one row fails, all others hold."""
    if row.recorded_miss:
        return Result(row=row, ours=0.5, miss=row.recorded_miss, verdict=Verdict.KNOWN)
    if row.group is Group.BAND and number % 7 == 0:
        return Result(row=row, ours=-1.5, miss=0.25, verdict=Verdict.FAILED)
    return Result(row=row, ours=0.125, miss=0.0, verdict=Verdict.HOLDS)


def curve(name: str, slope: float) -> Curve:
    at = tuple(0.5 * step for step in range(1, 7))
    return Curve(
        name=name,
        at=at,
        mean_logmar=tuple(round(-0.1 + slope * one, 3) for one in at),
        spread_logmar=(0.05,) * len(at),
    )


def plot(key: str, *curves: Curve) -> Plot:
    return Plot(
        key=key,
        curves=curves,
        published_name="a curve",
        published=((0.0, -0.1), (3.0, 0.4)),
        points=(
            Point(at=1.0, least_logmar=-0.05, most_logmar=0.15, source="a study of -1.00"),
            Point(at=2.0, least_logmar=-0.1, most_logmar=0.3, source="another", limit=True),
        ),
        best=(Best(least=1.0, most=2.0, curve=curves[0].name, source="a third"),),
    )


def sample_evidence() -> Evidence:
    """Return the table with made-up outcomes and four plots of straight lines."""
    return Evidence(
        engine=ENGINE_VERSION,
        rows=tuple(
            checked_row(subject, outcome(number, row))
            for number, (subject, row) in enumerate(all_rows())
        ),
        plots=(
            plot("defocus", curve("4 mm pupil", 0.3)),
            plot("pupil", curve("in focus", 0.05), curve("2.00 D of sphere", 0.2)),
            plot("pinhole", curve("1 D", 0.1), curve("3 D", 0.2), curve("6 D", 0.3)),
            plot("cylinder", curve("3.4 mm pupil", 0.2)),
        ),
    )


def keep_sample(folder: Path) -> None:
    """Write the made-up table where a server with that data folder finds it."""
    EvidenceKeeper(folder)._store(sample_evidence())
