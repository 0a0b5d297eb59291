"""What an attempt came to, made ready to be shown after its end."""

from dataclasses import replace

from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from server.attempts.acts import open_eyes
from server.attempts.clock import clock_text
from server.attempts.readings import note_of
from server.attempts.service import Attempt, Attempts
from server.attempts.state import State, running_states
from server.attempts.timeline import along
from server.marking.accuracy import recorded_lens
from server.marking.eye_mark import EyeMark
from server.marking.truth import Truth
from server.store.log import Event
from server.web.contexts_pages import EyeResult, ReviewPage, ReviewStep
from server.web.contexts_review import TimelineView
from server.web.notation import Notation
from server.web.plot_timeline import timeline_view
from server.web.present import status_words
from server.web.present_mark import fault_views, faults_along, mark_view

RECORDED, SHOWN = "Recorded: ", "Shown: "
SEEN = {"place", "exchange", "take", "step", "turn", "move", "fit", "wall", "undo"} | {
    *("hold", "aim", "show"),
}
JOINED = {"record": RECORDED, "show": SHOWN}  # done in one go, told as one step


def review_page(
    service: Attempts, attempt: Attempt, notation: Notation, client_key: str
) -> ReviewPage:
    """Return the review of a finished attempt."""
    mark, truths = service.mark(attempt), service.truths(attempt.case)
    return ReviewPage(
        attempt_id=attempt.row.id,
        age=attempt.case.age_y,
        who=attempt.case.who,
        mode=attempt.state.mode,
        sentence=mark.verdict,
        mark=mark_view(mark, counts=not attempt.state.copied_from),
        faults=fault_views(mark, attempt),
        eyes=tuple(
            _eye_result(attempt, one, truths[EyeSide(one.side)], notation) for one in mark.eyes
        ),
        next_steps=_next_steps(attempt),
        steps=tuple(_steps(attempt, notation)),
        because=attempt.case.answer.because if attempt.case.answer else "",
        again_id=attempt.case.public_id,
        client_key=client_key,
    )


def _next_steps(attempt: Attempt) -> tuple[tuple[str, str, str], ...]:
    """Return (what, as recorded, as it should be) for what follows the refraction."""
    answer, record = attempt.case.answer, attempt.state.record
    if answer is None:
        return ()
    return (
        ("prescribe", record.get("prescribe") or "–", answer.prescribe),
        ("refer", record.get("refer") or "–", answer.refer),
    )


def _eye_result(attempt: Attempt, beside: EyeMark, truth: Truth, notation: Notation) -> EyeResult:
    side = EyeSide(beside.side)
    eye, error_d = SIDE_NAMES[side], beside.error_d
    given = None if error_d is None else recorded_lens(attempt.state.record, eye)
    return EyeResult(
        name=eye,
        given=(beside.missing, "–", "–") if given is None else notation.parts(given),
        truth=notation.parts(truth.lens()),
        need=notation.lens_text(attempt.case.needs[side]),
        best=notation.acuity_text(truth.acuity_logmar),
        recorded=attempt.state.record.get(f"{eye}_acuity", "") or "–",
        distance="–" if error_d is None else f"{error_d:.2f}",
        error=_error_words(beside),
        band=beside.band,
    )


def _error_words(beside: EyeMark) -> str:
    if beside.error_d is None:
        return "There is nothing to compare."
    size = abs(beside.mean_off_d)
    if not beside.named:
        return f"Mean sphere within {size:.2f} D of the end point."
    return f"{beside.named.capitalize()} by {size:.2f} D of mean sphere."


def review_timeline(service: Attempts, attempt: Attempt, notation: Notation) -> TimelineView:
    """Return a finished attempt along the patient's time."""
    steps = along(attempt.case, attempt.events, service.truths(attempt.case))
    words = [notation.in_words(_what(attempt, one.step.number, one.step.state)) for one in steps]
    faults = faults_along(service.mark(attempt))
    return timeline_view(attempt.row.id, steps, words, faults, notation)


def _what(attempt: Attempt, number: int, state: State) -> str:
    event = attempt.events[number - 1]
    return state.talk[-1].asked if event.kind == "ask" else _words(attempt, event, state)


def _steps(attempt: Attempt, notation: Notation) -> list[ReviewStep]:
    """Return the log in words; what was written in one go is one step."""
    steps: list[ReviewStep] = []
    for event, state in running_states(attempt.events):
        said = state.talk[-1] if event.kind == "ask" else None
        step = ReviewStep(
            number=event.number,
            eye=_seeing(state) if event.kind in SEEN else "",
            time=clock_text(state.clock_s),
            words=notation.in_words(said.asked) if said else _words(attempt, event, state),
            reply=said.reply if said else "",
            why=notation.in_words(f"{note_of(said)} {said.why}".strip()) if said else "",
            kind=event.kind,
        )
        if steps and steps[-1].kind == event.kind and event.kind in JOINED:
            more = step.words.removeprefix(JOINED[event.kind]).rstrip(".")
            steps[-1] = replace(
                steps[-1], number=step.number, words=f"{steps[-1].words.rstrip('.')}; {more}"
            )
        else:
            steps.append(step)
    return steps


def _seeing(state: State) -> str:
    """Return the eye whose picture is shown: the one that is open, the right if both are."""
    sides = [side.value for side in open_eyes(state.frame)]
    return "R" if "R" in sides or not sides else "L"


def _words(attempt: Attempt, event: Event, state: State) -> str:
    if event.kind == "begin":
        return "The patient sits down."
    if event.kind == "finish":
        return "Finished."
    if event.kind == "record":
        written = (
            f"{name.replace('_', ' ')} {text}" for name, text in event.body["fields"].items()
        )
        return f"{RECORDED}{', '.join(written)}"
    upto = Attempt(
        row=attempt.row, case=attempt.case, state=state, events=attempt.events[: event.number]
    )
    return status_words(upto)
