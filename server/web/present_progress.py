"""Progress made ready to be shown."""

from server.attempts.progress import Done, Progress
from server.web.contexts_progress import DoneRow, ProgressPage

LEFT, RIGHT = 44.0, 660.0  # of 720 by 220
TOP, BOTTOM = 16.0, 180.0
MOST_ERROR_D = 2.0


def progress_page(progress: Progress, client_key: str) -> ProgressPage:
    """Return the page of what has been done so far."""
    rows = tuple(_row(one, at, len(progress.done)) for at, one in enumerate(progress.done))
    return ProgressPage(
        rows=rows,
        line=" ".join(f"{row.x},{row.y}" for row in rows),
        error_line=" ".join(f"{row.x},{row.error_y}" for row in rows if row.error_y),
        faults=progress.faults,
        kinds=tuple((kind, count, f"{mean:.0f}") for kind, count, mean in progress.kinds),
        next_level=progress.next_level,
        next_why=progress.next_why,
        client_key=client_key,
    )


def _row(one: Done, at: int, count: int) -> DoneRow:
    x = LEFT + (RIGHT - LEFT) * (at + 0.5) / count
    error_d = one.error_d
    return DoneRow(
        attempt_id=one.attempt.row.id,
        begun=one.begun.strftime("%d %b %H:%M"),
        who=f"{one.attempt.case.who}, {one.attempt.case.age_y}",
        level=one.attempt.case.level,
        mode=one.attempt.state.mode,
        total=f"{one.mark.total:.0f}",
        passed=one.mark.passed,
        error="not recorded" if error_d is None else f"{error_d:.2f} D",
        x=f"{x:.1f}",
        y=f"{BOTTOM - (BOTTOM - TOP) * one.mark.total / 100.0:.1f}",
        error_y=""
        if error_d is None
        else f"{BOTTOM - (BOTTOM - TOP) * min(error_d / MOST_ERROR_D, 1.0):.1f}",
    )
