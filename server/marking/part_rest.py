"""The smaller parts: how was asked, what was written, what was decided, how long it took."""

from collections.abc import Iterator, Mapping

from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from server.case_file import AnswerPart
from server.marking.eye_mark import EyeMark
from server.marking.faults.card import URGENCY
from server.marking.faults.fault import Fault, Scene
from server.marking.part import Line, Part
from server.marking.rubric import Rubric

TALK = (
    ("leading-question", "Neutral questions", "Ask evenly, without the answer in the question."),
    ("same-not-offered", "“The same” offered", "Offer “about the same” with every pair."),
    ("asked-again", "Nothing asked again without need", "Ask a comparison three times at most."),
)
# shares of the part: lens, acuity and unaided acuity of each eye; PD; what follows
LENS, ACUITY, UNAIDED, PD, FOLLOWS = 1 / 6, 1 / 12, 1 / 12, 1 / 6, 1 / 6
PRESCRIBE, REFER, REASON = 2 / 6, 3 / 6, 1 / 6
TOO_URGENT = 0.5  # of the points, for a referral one step faster than needed


def talk_part(scene: Scene, faults: Mapping[str, Fault], rubric: Rubric) -> Part:
    """Return the part for how questions were put."""
    most = rubric.talk_points / len(TALK)
    asked = any(
        step.said is not None and not step.said.question.startswith("history-")
        for step in scene.steps
    )
    lines = [
        Line(
            words=title if asked else f"{title}: nothing was asked",
            points=most if asked and key not in faults else 0.0,
            most=most,
            fault=key if key in faults else "",
            instead=instead,
        )
        for key, title, instead in TALK
    ]
    return Part.of("talk", "How it was asked", lines)


def record_part(
    scene: Scene,
    eyes: Mapping[EyeSide, EyeMark],
    faults: Mapping[str, Fault],
    undone: Mapping[EyeSide, frozenset[str]],
    rubric: Rubric,
    *,
    stopping: bool,
) -> Part:
    """Return the part for the card.

    ``undone`` holds the items of procedure that an eye has lost already: what was never
    measured cannot be written and costs nothing again, unless nothing was recorded of the eye.
    """
    seen = {side for side in EyeSide if eyes[side].given is not None or stopping}
    lines = [
        _written_line(scene, SIDE_NAMES[side], key, title, share, already and side in seen, rubric)
        for side in EyeSide
        for key, title, share, already in (
            ("acuity", "acuity", ACUITY, "acuity" in undone[side]),
            ("unaided", "unaided acuity", UNAIDED, "unaided" in undone[side]),
        )
    ]
    lens_lines = [
        Line(
            words=f"{SIDE_NAMES[side].capitalize()} lens: {eye.missing or 'written'}",
            points=LENS * rubric.record_points * (eye.given is not None or stopping),
            most=LENS * rubric.record_points,
            instead="Write sphere, cylinder and axis of each eye.",
        )
        for side, eye in eyes.items()
    ]
    both_pd = bool(scene.record.get("right_pd") and scene.record.get("left_pd"))
    decided = bool(scene.record.get("prescribe") and scene.record.get("refer"))
    rest = [
        _whether("PD of both eyes", both_pd, PD, rubric),
        _whether("Prescribe and refer", decided, FOLLOWS, rubric),
    ]
    charges = [
        Line(words=fault.title, points=-fault.charge, fault=fault.key)
        for fault in faults.values()
        if fault.part == "record"
    ]
    return Part.of("record", "What was written", [*lens_lines, *lines, *rest, *charges])


def _written_line(
    scene: Scene, eye: str, key: str, title: str, share: float, already: bool, rubric: Rubric
) -> Line:
    written = bool(scene.record.get(f"{eye}_{key}"))
    words = "written" if written else "not written"
    if already and not written:
        words = "not written, since not taken: charged under procedure"
    return Line(
        words=f"{eye.capitalize()} {title}: {words}",
        points=share * rubric.record_points * (written or already),
        most=share * rubric.record_points,
        instead=f"Write the {title} of each eye.",
    )


def _whether(title: str, written: bool, share: float, rubric: Rubric) -> Line:
    return Line(
        words=f"{title}: {'written' if written else 'not written'}",
        points=share * rubric.record_points * written,
        most=share * rubric.record_points,
        instead=f"Fill in the card to its end: {title[0].lower()}{title[1:]}."
        if not title.startswith("PD")
        else "Fill in the card to its end: the PD of both eyes.",
    )


def judgement_part(
    scene: Scene, answer: AnswerPart, faults: Mapping[str, Fault], points: float
) -> Part:
    """Return the part for what was decided: prescribe, refer, the reason."""
    return Part.of("judgement", "What was decided", _judged(scene, answer, faults, points))


def _judged(
    scene: Scene, answer: AnswerPart, faults: Mapping[str, Fault], points: float
) -> Iterator[Line]:
    prescribe, sent = scene.record.get("prescribe", ""), scene.record.get("refer", "")
    yield Line(
        words=f"Prescribe: {prescribe or 'not decided'}; right is {answer.prescribe}",
        points=PRESCRIBE * points * (prescribe == answer.prescribe),
        most=PRESCRIBE * points,
        fault="prescribed-against" if "prescribed-against" in faults else "",
        instead="Decide whether lenses would help this person, and write it.",
    )
    yield Line(
        words=f"Refer: {sent or 'not decided'}; right is {answer.refer}",
        points=REFER * points * _refer_share(sent, answer.refer),
        most=REFER * points,
        fault="warning-missed" if "warning-missed" in faults else "",
        instead="Decide how soon somebody else must see this person, and write it.",
    )
    asks = answer.refer != "none" or answer.prescribe == "no"
    given = bool(scene.record.get("comments")) if asks else bool(prescribe or sent)
    yield Line(
        words="Reason: " + ("given" if given and asks else "not given" if asks else "not needed"),
        points=REASON * points * given,
        most=REASON * points,
        instead="Write the reason for a referral, or for no lenses, under comments.",
    )


def _refer_share(sent: str, right: str) -> float:
    if not sent:
        return 0.0
    faster = URGENCY.index(sent) - URGENCY.index(right)
    return {0: 1.0, 1: TOO_URGENT}.get(faster, 0.0)


def time_part(scene: Scene, done: bool, rubric: Rubric) -> Part:
    """Return the part for the patient's time; only a finished examination can be in time."""
    minutes, target = scene.end.clock_s / 60.0, rubric.minutes[scene.case.level - 1]
    in_time = done and minutes <= target
    words = f"{minutes:.0f} of {target:g} minutes" + ("" if done else ", not completed")
    line = Line(
        words=words,
        points=rubric.time_points * in_time,
        most=rubric.time_points,
        instead=f"Be done within {target:g} minutes: large steps far out, small ones near the end.",
    )
    return Part.of("time", "The patient's time", [line])
