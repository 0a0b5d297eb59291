"""Faults of the record and of judgement: eyes swapped, signs lost, a warning not heeded."""

from collections.abc import Iterator

from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder, blur_strength_d, power_vector
from server.marking.faults.fault import Evidence, Kind, Scene, Weight, at_step

AGREE_D, DIFFER_D = 0.25, 0.50
URGENCY = ("none", "routine", "urgent", "same day")

SWAPPED = Kind(
    key="eyes-swapped",
    title="The right eye's lens was written for the left eye, and the left's for the right",
    weight=Weight.CRITICAL,
    part="record",
    why="Made up so, the eyes would be up to {size:.2f} D wrong.",
    instead="Read the card back against the frame, right eye first, before you finish.",
)
SIGN = Kind(
    key="sign-lost",
    title="A lens was written with the wrong sign",
    weight=Weight.CRITICAL,
    part="record",
    why="That is {size:.2f} D away from what stood in the frame.",
    instead="Say the sign aloud as you write it, and read the card back against the frame.",
)
WARNING = Kind(
    key="warning-missed",
    title="A warning was not followed as fast as it asks for",
    weight=Weight.CRITICAL,
    part="judgement",
    why="What no lens mends can cost all {size:.0f} lines that are still read.",
    instead="When history, acuity and pinhole do not fit mere blur, refer, and say how soon.",
)
PRESCRIBED = Kind(
    key="prescribed-against",
    title="Lenses were prescribed where none should be",
    weight=Weight.CRITICAL,
    part="judgement",
    why="{size:.2f} D of lenses would be worn without being what helps.",
    instead="Ask what the lenses would change for this person before you tick prescribe.",
)


def swapped(scene: Scene) -> Iterator[Evidence]:
    """Yield the end, if each eye's record is what stood last before the other one."""
    right, left = scene.work[EyeSide.RIGHT], scene.work[EyeSide.LEFT]
    if not (right.recorded and left.recorded and right.first_lens and left.first_lens):
        return
    found_r, found_l = right.last_lenses.lens, left.last_lenses.lens
    differ_d = _apart_d(found_r, found_l)
    crossed = max(_apart_d(right.recorded, found_l), _apart_d(left.recorded, found_r))
    if differ_d >= DIFFER_D and crossed <= AGREE_D:
        words = "Each eye's record is what stood before the other one."
        yield at_step(scene.end, EyeSide.RIGHT, words, differ_d)


def sign_lost(scene: Scene) -> Iterator[Evidence]:
    """Yield each eye whose record has the sphere of the frame with the other sign."""
    for work in scene.worked:
        if work.recorded is None or work.last_lenses.count == 0:
            continue
        found, written = work.last_lenses.lens, work.recorded.in_minus_cylinder()
        if abs(found.sphere_d) < AGREE_D:
            continue
        off = abs(written.sphere_d + found.sphere_d)
        if off <= AGREE_D / 2.0 and abs(written.sphere_d - found.sphere_d) >= DIFFER_D:
            words = f"The sphere before the {SIDE_NAMES[work.side]} eye had the other sign."
            yield at_step(scene.end, work.side, words, abs(written.sphere_d - found.sphere_d))


def _apart_d(one: SpheroCylinder, other: SpheroCylinder) -> float:
    return blur_strength_d(power_vector(one) - power_vector(other))


def warning_missed(scene: Scene) -> Iterator[Evidence]:
    """Yield the end, if the referral is missing or slower than the case asks for."""
    answer = scene.case.answer
    if answer is None:
        return
    sent = scene.record.get("refer") or "none"
    if URGENCY.index(sent) < URGENCY.index(answer.refer):
        worst = max(EyeSide, key=lambda side: scene.truths[side].acuity_logmar)
        lines = max(0.0, 10.0 * (1.6 - scene.truths[worst].acuity_logmar))
        words = f"Referred: {sent}; it should have been {answer.refer}."
        yield at_step(scene.end, worst, words, lines)


def prescribed_against(scene: Scene) -> Iterator[Evidence]:
    """Yield the end, if lenses were prescribed that the case should not get."""
    answer = scene.case.answer
    if answer is None or answer.prescribe == "yes" or scene.record.get("prescribe") != "yes":
        return
    lenses = [work.recorded for work in scene.work.values() if work.recorded]
    size = max((_apart_d(one, SpheroCylinder(sphere_d=0.0)) for one in lenses), default=0.0)
    yield at_step(scene.end, EyeSide.RIGHT, "Prescribe: yes.", size)
