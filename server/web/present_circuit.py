"""A circuit made ready to be shown: its start, what is between stations, its report."""

from collections.abc import Sequence

from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from server.attempts.circuit import (
    EXTRA_PERCENT,
    LEVELS,
    MINUTES,
    MOST_STATIONS,
    STANDARD,
    Phase,
    Plan,
    Standard,
)
from server.attempts.clock import clock_text
from server.attempts.exams import Circuit, Report, StationReport
from server.marking.eye_mark import EyeMark
from server.store.circuits import CircuitRow
from server.web.contexts import Bell
from server.web.contexts_circuit import (
    CircuitPage,
    CircuitStart,
    PastCircuit,
    ReportEye,
    ReportPage,
    ReportStation,
)

WEAKEST = 3
WEAK_FROM_D = 0.25


def circuit_start(past: Sequence[CircuitRow], client_key: str) -> CircuitStart:
    """Return the form that begins a circuit, and those of this browser."""
    return CircuitStart(
        past=tuple(
            PastCircuit(
                circuit_id=row.id,
                words=settings_words(Plan.from_body(row.plan)),
                begun=row.created_at.strftime("%d %b %H:%M"),
                over=row.over_at is not None,
            )
            for row in past
        ),
        levels=LEVELS,
        most_stations=MOST_STATIONS,
        minutes=MINUTES,
        extra_percent=EXTRA_PERCENT,
        standard=standard_words(STANDARD),
        client_key=client_key,
    )


def circuit_page(found: Circuit) -> CircuitPage:
    """Return the page of a circuit where no station is open."""
    stands = found.standing
    titles = {
        Phase.READY: "Your circuit is ready",
        Phase.CHANGE: f"Station {stands.number} is closed",
        Phase.GATHERING: "The last bell has rung",
    }
    here = f"/circuits/{found.row.id}"
    bell = Bell(words="", left_s=found.left_s, left=clock_text(found.left_s), leads_to=here)
    return CircuitPage(
        circuit_id=found.row.id,
        phase=stands.phase.value,
        title=titles[stands.phase],
        settings=settings_words(found.plan),
        standard=standard_words(STANDARD),
        number=stands.number,
        next_number=stands.number + 1,
        of=found.plan.stations,
        early=stands.early,
        bell=bell if stands.until else None,
    )


def settings_words(plan: Plan) -> str:
    """Return how a circuit is set, in words."""
    stations = "1 station" if plan.stations == 1 else f"{plan.stations} stations"
    levels = ", ".join(map(str, plan.levels))
    extra = f" and {plan.extra_percent} % extra time" if plan.extra_percent else ""
    named = "level" if len(plan.levels) == 1 else "levels"
    return f"{stations} of {plan.minutes} minutes{extra}, {named} {levels}"


def standard_words(standard: Standard) -> str:
    """Return what a circuit must reach, in words."""
    return (
        f"Passed is a mean of {standard.mean:g} or more of 100 with no station under"
        f" {standard.least:g}"
    )


def report_page(found: Circuit, report: Report) -> ReportPage:
    """Return the report of a circuit that is over."""
    passed = "passed" if report.passed else "not passed"
    extra_s = sum(one.extra_s for one in report.stations)
    return ReportPage(
        circuit_id=found.row.id,
        sentence=f"{passed.capitalize()}: {report.mean:.0f} of 100 on average.",
        passed=report.passed,
        begun=found.row.created_at.strftime("%d %b %Y %H:%M"),
        settings=settings_words(found.plan),
        standard=standard_words(report.standard),
        mean=f"{report.mean:.0f}",
        stations=tuple(
            _station(number, one, report.standard) for number, one in enumerate(report.stations, 1)
        ),
        weakest=weakest(report),
        extra=clock_text(extra_s) if found.plan.extra_percent else "",
    )


def _station(number: int, one: StationReport, standard: Standard) -> ReportStation:
    case = one.attempt.case
    return ReportStation(
        number=number,
        attempt_id=one.attempt.row.id,
        who=f"{case.who[:1].upper()}{case.who[1:]}, {case.age_y}",
        level=case.level,
        eyes=tuple(
            ReportEye(
                name=_name(eye),
                error="–" if eye.error_d is None else f"{eye.error_d:.2f} D",
                words="not recorded" if eye.error_d is None else eye.named or "balanced",
            )
            for eye in one.mark.eyes
        ),
        total=f"{one.mark.total:.0f}",
        low=one.mark.total < standard.least,
        used=clock_text(one.used_s),
        extra=clock_text(one.extra_s),
    )


def weakest(report: Report) -> tuple[str, ...]:
    """Return what to do otherwise at the stations, then the eyes that cost most, worst first."""
    otherwise = [
        f"Station {number}: {one.mark.one_thing}"
        for number, one in sorted(
            enumerate(report.stations, 1), key=lambda each: each[1].mark.total
        )
    ]
    eyes = [(number, eye) for number, one in enumerate(report.stations, 1) for eye in one.mark.eyes]
    lost = [
        (number, eye) for number, eye in eyes if eye.error_d is None or eye.error_d > WEAK_FROM_D
    ]
    lost.sort(key=lambda each: float("inf") if each[1].error_d is None else each[1].error_d)
    worst = [_lost_words(number, eye) for number, eye in lost[: -WEAKEST - 1 : -1]]
    return (*otherwise[:WEAKEST], *worst)


def _name(eye: EyeMark) -> str:
    return SIDE_NAMES[EyeSide(eye.side)]


def _lost_words(number: int, eye: EyeMark) -> str:
    where = f"Station {number}, {_name(eye)} eye"
    if eye.error_d is None:
        return f"{where}: nothing was written that can be marked."
    return f"{where}: {eye.error_d:.2f} D from the end point, {eye.named or 'the cylinder'}."
