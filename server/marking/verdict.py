"""The verdict in one sentence, and the one thing to do otherwise next time."""

from collections.abc import Iterable, Sequence

from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from server.marking.eye_mark import EyeMark
from server.marking.faults.fault import Fault, Weight
from server.marking.part import Part
from server.marking.part_accuracy import WRITE_IT

CLOSE_D = 0.25
PRAISE = "Nothing to do otherwise: "
NEXT = (
    "try a patient with a cylinder, level 2.",
    "try a patient whose eyes differ or whose axes are oblique, level 3.",
    "try a patient with several things at once, level 4.",
    "try the same patient in half the questions.",
)
FORGIVEN = 0.5  # points; less is not worth a word


def verdict_of(eyes: Sequence[EyeMark], faults: Iterable[Fault], *, stopping: bool) -> str:
    """Return what the attempt came to, in one sentence."""
    by_key = {fault.key: fault for fault in faults}
    for key in ("warning-missed", "prescribed-against", "eyes-swapped", "sign-lost"):
        if key in by_key:
            return f"{by_key[key].title}."
    if stopping:
        return "You stopped where stopping was right, and sent the patient on in time."
    return _of_eyes(eyes)


def _of_eyes(eyes: Sequence[EyeMark]) -> str:
    missing = [_eye(eye) for eye in eyes if eye.error_d is None]
    if len(missing) == len(eyes):
        return "Nothing was recorded for either eye, so there is little to mark."
    worst = max(eyes, key=lambda eye: -1.0 if eye.error_d is None else eye.error_d)
    if missing:
        return (
            f"The {missing[0]} eye was not recorded; the {_eye(worst)} eye is"
            f" {worst.error_d:.2f} D from its end point{_named(worst)}."
        )
    if worst.error_d is not None and worst.error_d <= CLOSE_D + 1e-9:
        return "Both eyes are within a quarter of a dioptre of their end points."
    return f"The {_eye(worst)} eye is {worst.error_d:.2f} D from its end point{_named(worst)}."


def _eye(eye: EyeMark) -> str:
    return SIDE_NAMES[EyeSide(eye.side)]


def _named(eye: EyeMark) -> str:
    return f": {eye.named} by {abs(eye.mean_off_d):.2f} D" if eye.named else ""


def one_thing_of(parts: Sequence[Part], faults: Sequence[Fault], level: int) -> str:
    """Return what was amiss and what to do instead: record every eye, else what cost most.

    A grave fault leads, for it says why an answer is off; before a minor one goes the line that
    lost more. Where nothing is amiss: praise, and what to try next.
    """
    lines = [line for part in parts for line in part.lines if line.instead]
    if any(line.instead == WRITE_IT and not line.points for line in lines):
        return WRITE_IT
    fault = max(faults, key=lambda fault: fault.charge, default=None)
    line = max(lines, key=lambda line: line.lost, default=None)
    lost = line.lost if line else 0.0
    if fault and (fault.weight != Weight.MINOR or fault.charge >= lost):
        return f"{fault.title}. {fault.instead}"
    if line and lost > FORGIVEN:
        return f"{line.words}. {line.instead}"
    return PRAISE + NEXT[min(level, len(NEXT)) - 1]
