"""The mark of a finished attempt: parts scaled to 100, the faults, a verdict, one thing to do."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from optics.light.lens import EyeSide
from server.casebook import Case
from server.marking.eye_mark import EyeMark, eye_mark
from server.marking.faults import faults_in, scene_of
from server.marking.faults.fault import Fault, Scene
from server.marking.part import Line, Part
from server.marking.part_accuracy import accuracy_part
from server.marking.part_procedure import States, item_states, procedure_part
from server.marking.part_rest import judgement_part, record_part, talk_part, time_part
from server.marking.rubric import Rubric
from server.marking.steps import Truths, steps_of
from server.marking.verdict import one_thing_of, verdict_of
from server.store.log import Event

HUNDRED = 100.0
NOT_YET = (
    "Balance of the two eyes (6 points): the room has no test for it yet",
    "Near addition (6 points): the room has no near card yet",
)
NO_ANSWER = "Prescribing and referring: this case does not say what is right"
STOP = "Accuracy: the right thing was to stop and refer"
NO_CAP = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What an attempt is worth.

    ``total`` of 100 is ``points`` of ``most`` scaled, then held under the caps (each a line:
    why, and the most that the total may be). ``left_out`` says what could not be marked.
    """

    total: float
    points: float
    most: float
    passed: bool
    eyes: tuple[EyeMark, ...] = field(repr=False)
    parts: tuple[Part, ...] = field(repr=False)
    caps: tuple[Line, ...]
    faults: tuple[Fault, ...] = field(repr=False)
    verdict: str = field(repr=False)
    one_thing: str
    left_out: tuple[str, ...]
    rubric_version: str

    def as_body(self) -> dict[str, Any]:
        """Return it as the store keeps it."""
        return asdict(self)

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> "Mark":
        """Return what was stored."""
        changes = {
            "eyes": tuple(EyeMark.from_body(one) for one in body["eyes"]),
            "parts": tuple(Part.from_body(one) for one in body["parts"]),
            "caps": tuple(Line.from_body(one) for one in body["caps"]),
            "faults": tuple(Fault.from_body(one) for one in body["faults"]),
            "left_out": tuple(body["left_out"]),
        }
        return cls(**dict(body) | changes)


def marked(
    case: Case, events: Iterable[Event], truths: Truths, rubric: Rubric | None = None
) -> Mark:
    """Return the mark of an attempt's events by the case's rubric, or by another one.

    At least the attempt's beginning must be among the events.
    """
    rubric = rubric or case.rubric
    steps = steps_of(case, events, truths)
    record = steps[-1].state.record
    scene = scene_of(steps, case, record, truths)
    eyes = {side: eye_mark(side, record, truths[side], rubric) for side in EyeSide}
    found = {fault.key: fault for fault in faults_in(scene, rubric)}
    parts = _parts(scene, eyes, found, rubric)
    faults = tuple(_charged(fault, parts) for fault in found.values())
    points, most = sum(part.points for part in parts), sum(part.most for part in parts)
    caps = tuple(_caps(case, found, rubric))
    scaled = HUNDRED * points / most if most > 0.0 else 0.0
    total = round(min([scaled, *(cap.points for cap in caps)]), 1)
    return Mark(
        total=total,
        points=points,
        most=most,
        passed=total >= rubric.pass_total and not caps,
        eyes=tuple(eyes.values()),
        parts=parts,
        caps=caps,
        faults=faults,
        verdict=verdict_of(tuple(eyes.values()), faults, stopping=_stopping(case)),
        one_thing=one_thing_of(parts, faults, case.level),
        left_out=_left_out(case),
        rubric_version=rubric.version,
    )


def _stopping(case: Case) -> bool:
    """Say whether the right thing was to stop and send the patient on."""
    answer = case.answer
    return answer is not None and answer.prescribe == "no" and answer.pressing


def _left_out(case: Case) -> tuple[str, ...]:
    more = [NO_ANSWER] if case.answer is None else [STOP] if _stopping(case) else []
    return (*NOT_YET, *more)


def _parts(
    scene: Scene,
    eyes: Mapping[EyeSide, EyeMark],
    faults: Mapping[str, Fault],
    rubric: Rubric,
) -> tuple[Part, ...]:
    case, stopping = scene.case, _stopping(scene.case)
    judged = rubric.judgement_points
    if case.level >= rubric.judged_from_level and case.answer is not None:
        judged = rubric.judged_points
    eye_points = max(0.0, rubric.eye_points - (judged - rubric.judgement_points) / 2.0)
    cap = rubric.guess_cap if _guessed(scene, eyes.values(), rubric) else NO_CAP
    states = item_states(scene, eyes, faults, stopping=stopping)
    undone = _undone(states)
    parts = [
        procedure_part(states, faults, rubric, stopping=stopping, cap=cap),
        talk_part(scene, faults, rubric),
        record_part(scene, eyes, faults, undone, rubric, stopping=stopping),
        time_part(scene, stopping or all(eye.given for eye in eyes.values()), rubric),
    ]
    if not stopping:
        parts.insert(0, accuracy_part(scene, eyes.values(), faults, rubric, eye_points))
    if case.answer is not None:
        parts.append(judgement_part(scene, case.answer, faults, judged))
    return tuple(parts)


def _undone(states: States) -> dict[EyeSide, frozenset[str]]:
    """Return the items that each eye has lost."""
    return {
        side: frozenset(
            key for (key, of), (earned, _) in states.items() if of is side and not earned
        )
        for side in EyeSide
    }


def _guessed(scene: Scene, eyes: Iterable[EyeMark], rubric: Rubric) -> bool:
    """Say whether an answer that is off was written after next to no questions."""
    asked = {look.number for work in scene.work.values() for look in work.looks}
    off = any(eye.error_d is not None and eye.error_d > rubric.power_full_d for eye in eyes)
    return off and len(asked) < rubric.guess_under


def _charged(fault: Fault, parts: Sequence[Part]) -> Fault:
    """Return the fault with what it has cost in the parts, each point once."""
    lost = (line.lost for part in parts for line in part.lines if line.fault == fault.key)
    return replace(fault, charge=round(sum(lost), 3))


def _caps(case: Case, faults: Mapping[str, Fault], rubric: Rubric) -> Iterator[Line]:
    pressing = case.answer is not None and case.answer.pressing
    for key in ("warning-missed", "prescribed-against"):
        if key in faults and pressing:
            yield Line(words=faults[key].title, points=rubric.safety_cap, fault=key)
    if "eyes-swapped" in faults:
        title = faults["eyes-swapped"].title
        yield Line(words=title, points=rubric.swap_cap, fault="eyes-swapped")
    sign = faults.get("sign-lost")
    if sign and max(one.size for one in sign.evidence) > rubric.sign_from_d:
        yield Line(words=sign.title, points=rubric.sign_cap, fault="sign-lost")
