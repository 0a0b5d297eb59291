"""Faults with the sphere: no fog, minus without letters, steps that do not suit, plus out."""

from collections.abc import Iterator
from itertools import pairwise

from optics.light.frame import SIDE_NAMES
from server.attempts.hand import Tool
from server.marking.faults.fault import Evidence, Kind, Scene, Weight, at_look, at_step
from server.marking.looks import ABOUT_CHANGE, LEAST_D, EyeWork, Look
from server.marking.rubric import just_noticeable_d
from server.marking.steps import Step, as_done

FOG_D, AMPLITUDE_D = 0.5, 2.0
NEEDS_NO_MINUS_D, TOO_MUCH_D = -0.06, 0.18
POOR_FROM_LOGMAR, GOOD_TO_LOGMAR = 0.35, 0.2
COARSE_D = 0.6  # twice the just noticeable difference of 6/9
SMALL_TIMES, COARSE_TIMES = 3, 2
BARE_D = 0.25

NO_FOG = Kind(
    key="no-fog",
    title="The eye was never fogged before its cylinder",
    weight=Weight.MAJOR,
    why="It never had over {size:.2f} D too much plus, so its own focusing could hide plus.",
    instead="Add plus until letters really fall, then take it out by 0.25 while letters return.",
)
MINUS = Kind(
    key="minus-without-letters",
    title="Minus was accepted though no more letters were read",
    weight=Weight.MAJOR,
    why="It left {size:.2f} D too much minus, which the eye must make up by accommodating all day.",
    instead="Give more minus only for more letters; smaller and blacker is no reason.",
)
STEP_SIZE = Kind(
    key="step-size",
    title="The steps did not suit the acuity",
    weight=Weight.MINOR,
    why="About {size:.2f} D is just noticed: far less tells nothing, far more jumps the end.",
    instead="Show about x/30 of a dioptre at 6/x: 0.25 at 6/7.5, 1.00 or more at 6/60.",
)
PLUS_OUT = Kind(
    key="plus-out-first",
    title="Plus was taken out before the next plus was in",
    weight=Weight.MINOR,
    why="For a moment {size:.2f} D of plus was missing, and the eye woke up to focus.",
    instead="Put the next plus into another cell before you take the old one out, or use the step.",
)


def no_fog(scene: Scene) -> Iterator[Evidence]:
    """Yield the first cylinder of each eye (else its last question) that no fog came before."""
    if scene.case.eyes.amplitude_d <= AMPLITUDE_D:
        return
    for work in scene.worked:
        until = cylinder_sought(scene, work)
        errors = [
            error[0]
            for step in scene.steps
            if until is None or step.number < until.number
            if (error := step.error[work.side]) is not None
        ]
        most_fog = -min(errors, default=0.0)
        if most_fog < FOG_D - 1e-9 and work.looks:
            step = until or work.looks[-1].step
            words = f"Until then the {SIDE_NAMES[work.side]} eye had not been fogged."
            yield at_step(step, work.side, words, max(most_fog, 0.0))


def first_cylinder(work: EyeWork) -> Step | None:
    """Return the step that put or held the first cylinder before an eye that was asked of."""
    before = 0
    for look in work.looks:
        if look.crossed or look.lenses.cylinders:
            later = (step for step in work.steps if step.number > before)
            return next((step for step in later if _has(work, step)), None)
        before = look.number
    return None


def _has(work: EyeWork, step: Step) -> bool:
    """Say whether a cylinder stands or is held before the eye."""
    return _holds(work, step) or bool(work.lenses(step).cylinders)


def _holds(work: EyeWork, step: Step) -> bool:
    hand = step.state.hand
    return hand is not None and hand.tool is Tool.CROSS and hand.side is work.side


def cylinder_sought(scene: Scene, work: EyeWork) -> Step | None:
    """Return the step that first sought a cylinder, one that was given at the start left out.

    Given is what stood before the eye at its first question, if the card told of a result.
    """
    first, start = first_cylinder(work), scene.case.start
    told = any(start.get(f"{kind}_{SIDE_NAMES[work.side]}") for kind in ("objective", "worn"))
    look = next((one for one in work.looks if one.lenses.count), None)
    if first is None or look is None or not told or first.number > look.number:
        return first
    return next((step for step in work.steps if _seeks(work, look, step)), None)


def _seeks(work: EyeWork, given: Look, step: Step) -> bool:
    changed = work.lenses(step).cylinders != given.lenses.cylinders
    return _holds(work, step) or (step.number > given.number and changed)


def minus_accepted(scene: Scene) -> Iterator[Evidence]:
    """Yield each step of minus that stayed, on an eye that needed none, without more letters."""
    for work in scene.worked:
        for before, after in pairwise(work.looks):
            least = _more_minus(before, after)
            if least and not _letters_won(work, before, after) and _stayed(work, after):
                words = f"{-least:.2f} D more minus before the {SIDE_NAMES[work.side]} eye."
                yield at_look(after, words, after.error[0])


def _more_minus(before: Look, after: Look) -> float:
    """Return the change of mean sphere if it is minus that was not needed, else 0."""
    change = after.lenses.mean_d - before.lenses.mean_d
    by_sphere = abs(change - (after.lenses.sphere_d - before.lenses.sphere_d)) < LEAST_D
    needless = before.error[0] >= NEEDS_NO_MINUS_D and after.error[0] >= TOO_MUCH_D
    return change if change <= -LEAST_D and by_sphere and needless else 0.0


def _letters_won(work: EyeWork, before: Look, after: Look) -> bool:
    """Say whether more letters were read with the new lens than with the old one.

    A reading that began too low counts as its best: no fault comes of what it does not tell.
    """
    same = [
        one for one in work.looks if one.lenses == before.lenses and one.number <= before.number
    ]
    now = [one for one in work.looks if one.lenses == after.lenses and one.number >= after.number]
    old = [one.read_logmar for one in same if one.read_logmar is not None]
    new = [one.read_logmar for one in now if one.read_logmar is not None]
    return bool(old) and bool(new) and min(new) < old[-1] - 1e-6


def _stayed(work: EyeWork, after: Look) -> bool:
    """Say whether no later question, and not the end, went back to more plus."""
    later = [one.lenses.mean_d for one in work.looks if one.number > after.number]
    limit = after.lenses.mean_d + LEAST_D
    return all(mean <= limit for mean in (*later, work.settled.spherical_equivalent_d))


def step_size(scene: Scene) -> Iterator[Evidence]:
    """Yield steps too small for a poor acuity (from three) or too large for a good one (two)."""
    for work in scene.worked:
        small, coarse = [], []
        for before, look in zip((None, *work.looks), work.looks, strict=False):
            size, acuity = _step_shown(before, look), work.acuity_at(look)
            if size == 0.0 or acuity is None:
                continue
            noticeable = just_noticeable_d(acuity)
            words = f"A step of {size:.2f} D where {noticeable:.2f} D is just noticed."
            if acuity > POOR_FROM_LOGMAR and size < noticeable / 2.0 - 0.01:
                small.append(at_look(look, words, noticeable))
            elif acuity <= GOOD_TO_LOGMAR + 1e-6 and size > COARSE_D:
                coarse.append(at_look(look, words, noticeable))
        yield from small if len(small) >= SMALL_TIMES else ()
        yield from coarse if len(coarse) >= COARSE_TIMES else ()


def _step_shown(before: Look | None, look: Look) -> float:
    """Return the difference of sphere that a question was about, 0 if it was about none."""
    hand = look.step.state.hand
    if look.paired and hand is not None:
        return 2.0 * hand.power_d if hand.tool is Tool.PAIR else 0.0
    if before is None or look.question not in ABOUT_CHANGE or not before.lenses.count:
        return 0.0
    change = abs(look.lenses.sphere_d - before.lenses.sphere_d)
    turned = abs(look.lenses.cylinder_d - before.lenses.cylinder_d) > LEAST_D
    return 0.0 if turned or change < LEAST_D else change


def plus_out_first(scene: Scene) -> Iterator[Evidence]:
    """Yield each moment when an open eye in need of plus stood without it between two lenses."""
    if scene.case.eyes.amplitude_d <= AMPLITUDE_D:
        return
    for work in scene.worked:
        asked = {look.number for look in work.looks}
        done = [
            one
            for step in scene.steps
            if step.number in asked or _moves_sphere(step, work)
            for one in as_done(scene.case, step, scene.truths)
        ]
        for taken, placed in pairwise(done):  # what was asked about in between was tried
            error = taken.error[work.side]
            if error is None or error[0] <= BARE_D:
                continue
            if _exchanged(scene, work, taken, placed) and _less_than_asked(work, taken):
                yield at_step(taken, work.side, "The plus lens was out.", error[0])


def _moves_sphere(step: Step, work: EyeWork) -> bool:
    moves = {"place", "exchange", "take", "step", "move", "undo", "fit"}
    return step.kind in moves and step.body.get("side", work.side.value) == work.side.value


def _less_than_asked(work: EyeWork, taken: Step) -> bool:
    """Say whether the eye had less plus than at its last question: none stood by for it."""
    before = [look.lenses.sphere_d for look in work.looks if look.number < taken.number]
    return not before or work.lenses(taken).sphere_d < before[-1] - LEAST_D


def _exchanged(scene: Scene, work: EyeWork, taken: Step, placed: Step) -> bool:
    """Say whether plus was taken out and a sphere at least as much plus put in."""
    if (taken.kind, placed.kind) != ("take", "place"):
        return False
    last = next(step for step in reversed(scene.steps) if step.number < taken.number)
    before = work.lenses(last)
    out_d = before.sphere_d - work.lenses(taken).sphere_d
    in_d = work.lenses(placed).sphere_d - work.lenses(taken).sphere_d
    return out_d > LEAST_D and in_d > LEAST_D and in_d >= out_d - LEAST_D
