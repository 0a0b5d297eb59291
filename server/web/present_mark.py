"""The mark of an attempt and its faults, made ready to be shown."""

from collections.abc import Mapping, Sequence

from server.attempts.clock import clock_text
from server.attempts.service import Attempt
from server.attempts.state import running_states
from server.marking.faults.fault import Evidence, Fault
from server.marking.mark import Mark
from server.marking.part import Line, Part
from server.marking.rubric import has_own_weights
from server.web.contexts_review import EvidenceView, FaultView, LineView, MarkView, PartView

MOST_EVIDENCE = 4  # of a fault; the rest is counted


def labels_of(mark: Mark) -> dict[str, str]:
    """Return each fault's number on the page, by its key."""
    return {fault.key: str(number) for number, fault in enumerate(mark.faults, 1)}


def mark_view(mark: Mark, *, counts: bool) -> MarkView:
    """Return the mark with its parts."""
    labels = labels_of(mark)
    return MarkView(
        total=f"{mark.total:.0f}",
        passed=mark.passed,
        counts=counts,
        one_thing=mark.one_thing,
        parts=tuple(_part(part, labels) for part in mark.parts),
        caps=tuple(f"{cap.words}: at most {cap.points:g}" for cap in mark.caps),
        left_out=mark.left_out,
        own_weights=has_own_weights(mark.rubric_version),
        rules=f"{mark.points:.1f} of {mark.most:.0f} points scaled to 100;"
        f" rules of marking, version {mark.rubric_version}",
    )


def _part(part: Part, labels: Mapping[str, str]) -> PartView:
    share = 100.0 * part.points / part.most if part.most else 0.0
    return PartView(
        title=part.title,
        points=f"{part.points:.1f}",
        most=f"{part.most:.0f}",
        share=f"{share:.0f}",
        lines=tuple(_line(line, labels) for line in part.lines),
    )


def _line(line: Line, labels: Mapping[str, str]) -> LineView:
    charge = line.most <= 0.0
    points = f"{line.points:+.1f}".replace("-", "−") if charge else f"{line.points:.1f}"
    return LineView(
        words=line.words,
        points=points if charge else f"{points} of {f'{line.most:.1f}'.removesuffix('.0')}",
        charge=charge,
        details=line.details,
        fault=labels.get(line.fault, ""),
    )


def fault_views(mark: Mark, attempt: Attempt) -> tuple[FaultView, ...]:
    """Return the faults with where they show, in the order of the page."""
    labels = labels_of(mark)
    times = {event.number: state.clock_s for event, state in running_states(attempt.events)}
    return tuple(_fault(fault, labels[fault.key], times) for fault in mark.faults)


def _fault(fault: Fault, label: str, times: Mapping[int, float]) -> FaultView:
    return FaultView(
        label=label,
        title=fault.title,
        weight=fault.weight,
        charge=f"{fault.charge:.1f}",
        why=fault.why,
        instead=fault.instead,
        evidence=tuple(_evidence(one, times) for one in fault.evidence[:MOST_EVIDENCE]),
        more=max(0, len(fault.evidence) - MOST_EVIDENCE),
    )


def _evidence(one: Evidence, times: Mapping[int, float]) -> EvidenceView:
    return EvidenceView(
        number=one.number, time=clock_text(times.get(one.number, 0.0)), words=one.words
    )


def faults_along(mark: Mark) -> Sequence[tuple[int, str, str]]:
    """Return (event, number on the page, words) of each fault's first evidence."""
    labels = labels_of(mark)
    return [
        (fault.evidence[0].number, labels[fault.key], f"{labels[fault.key]}. {fault.title}")
        for fault in mark.faults
        if fault.evidence
    ]
