"""The page about the engine's truth, made ready to be shown."""

from itertools import groupby

from optics.validation.row import Group, Verdict
from server.evidence import CheckedRow, Evidence
from server.keeper import Progress
from server.web.contexts_evidence import (
    HowTruePage,
    HowTrueProgress,
    HowTrueWaiting,
    StillWrong,
    TrueGroup,
    TrueRow,
)
from server.web.notation import Notation
from server.web.plotting import plot_view, true_minus

CLAIMS = {
    Group.EXACT: ("Exact", "Optics and arithmetic with one right answer. Every row must hold."),
    Group.FITTED: ("Fitted", "The few constants of the letter reader were chosen on these."),
    Group.HELD_OUT: (
        "Held out",
        "No constant was fitted to these; the reader’s rules were chosen with them in sight.",
    ),
    Group.BAND: ("Band", "People differ; the value must lie where published ones do."),
    Group.BIAS: ("Known bias", "What the engine is known to get wrong, with its size."),
}
STATES = {
    Verdict.HOLDS: "holds",
    Verdict.BETTER: "holds",
    Verdict.KNOWN: "known",
    Verdict.FAILED: "failed",
}


def how_true_page(evidence: Evidence, notation: Notation) -> HowTruePage:
    """Return the whole page."""
    rows = [(row, _row(row)) for row in evidence.rows]
    states = [shown.state for _, shown in rows]
    return HowTruePage(
        engine=evidence.engine,
        count=len(rows),
        holding=states.count("holds"),
        known=states.count("known"),
        failed=states.count("failed"),
        wrong=_wrong(rows),
        plots=tuple(plot_view(plot, notation) for plot in evidence.plots),
        groups=tuple(_group(group, rows) for group in Group),
    )


def waiting_page(progress: Progress) -> HowTrueWaiting:
    """Return the page while the table is computed."""
    return HowTrueWaiting(progress=progress_part(progress))


def progress_part(progress: Progress) -> HowTrueProgress:
    """Return how far the table is."""
    return HowTrueProgress(done=progress.done, total=progress.total, failed=progress.failed)


def _row(row: CheckedRow) -> TrueRow:
    verdict = Verdict(row.verdict)
    return TrueRow(
        condition=true_minus(row.condition[:1].upper() + row.condition[1:]),
        published=true_minus(row.published),
        ours=true_minus(row.ours),
        unit=row.unit,
        verdict=_verdict(verdict, row.miss),
        state=STATES[verdict],
        source=true_minus(row.source),
        from_memory=row.from_memory,
        catches=row.catches,
        reason=row.reason,
    )


def _verdict(verdict: Verdict, miss: float) -> str:
    if STATES[verdict] == "holds":
        return "agrees"
    beyond = f"{miss:.2f}" if miss >= 0.005 else "less than 0.01"
    word = "known miss" if verdict is Verdict.KNOWN else "fails"
    return f"{word}: {beyond} outside"


def _wrong(rows: list[tuple[CheckedRow, TrueRow]]) -> tuple[StillWrong, ...]:
    """Return the misses, those with one reason together, failures first."""
    reasons: dict[str, list[TrueRow]] = {}
    for _, shown in rows:
        if shown.state != "holds":
            reasons.setdefault(shown.reason, []).append(shown)
    wrong = [
        StillWrong(
            reason=reason[:1].upper() + reason[1:] or "Not yet understood",
            failed=any(one.state == "failed" for one in missed),
            rows=tuple(missed),
        )
        for reason, missed in reasons.items()
    ]
    return tuple(sorted(wrong, key=lambda one: not one.failed))


def _group(group: Group, rows: list[tuple[CheckedRow, TrueRow]]) -> TrueGroup:
    own = [(row, shown) for row, shown in rows if row.group == group.value]
    title, says = CLAIMS[group]
    return TrueGroup(
        key=group.value.replace(" ", "-"),
        title=title,
        says=says,
        count=len(own),
        missed=sum(shown.state != "holds" for _, shown in own),
        open=group is Group.HELD_OUT,
        subjects=tuple(
            (subject, tuple(shown for _, shown in some))
            for subject, some in groupby(own, key=lambda pair: pair[0].subject)
        ),
    )
