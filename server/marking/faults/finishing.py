"""Faults in keeping sphere and cylinder together: nothing given back, both at once."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from optics.light.frame import SIDE_NAMES
from optics.patient.questions import READING, Question
from server.marking.faults.fault import (
    Evidence,
    Kind,
    Scene,
    Weight,
    at_look,
    at_step,
    cylinder_left_d,
)
from server.marking.looks import ABOUT_CHANGE, LEAST_D, EyeWork, Lenses, Look, lenses_before
from server.marking.steps import Step

CHANGED_D = 0.5
OFF_D = 0.12  # of mean sphere, which a missing compensation must have left
FOGGED_VIEWS = ("fan", "block")

UNCOMPENSATED = Kind(
    key="sphere-not-compensated",
    title="The cylinder was changed by 0.50 D and the sphere was left as it was",
    weight=Weight.MAJOR,
    why="Half of it went into the mean sphere, which was then {size:.2f} D off.",
    instead="For every 0.50 D of minus cylinder give 0.25 D of plus sphere, and back.",
)
NO_RETURN = Kind(
    key="no-return-to-sphere",
    title="The sphere was not tried again after the last change of cylinder",
    weight=Weight.MAJOR,
    why="It ended with {size:.2f} D of mean sphere wrong, and nobody asked.",
    instead="When the cylinder is done, offer plus and minus 0.25 once more and count letters.",
)
TWO_AT_ONCE = Kind(
    key="two-at-once",
    title="Sphere and cylinder were both changed before one question",
    weight=Weight.MAJOR,
    why="The mean sphere moved by {size:.2f} D as well, so the answer belongs to neither.",
    instead="Change one thing, ask, and only then change the next.",
)


def uncompensated(scene: Scene) -> Iterator[Evidence]:
    """Yield each 0.50 D of cylinder that no sphere followed by the next question.

    It counts only where it left the mean sphere off.
    """
    for work in scene.worked:
        yield from _uncompensated(work)


def _uncompensated(work: EyeWork) -> Iterator[Evidence]:
    nodes = [look.step for look in work.looks if look.lenses.count]
    nodes += [work.end_step] if work.end_step else []
    held: Lenses | None = None
    for index, step in enumerate(nodes):
        now = work.lenses(step)
        if held is None or step.state.wall.view in FOGGED_VIEWS:
            held = now
        elif abs(now.cylinder_d - held.cylinder_d) >= CHANGED_D - 1e-6:
            soon = nodes[index : index + 2]
            last = soon[-1]
            if not _compensated(work, held, now, soon) and _left_off(work, held, now, last):
                was_d, is_d = abs(held.cylinder_d), abs(now.cylinder_d)
                words = f"The cylinder went from {was_d:.2f} to {is_d:.2f} D."
                error = last.in_frame[work.side] or (0.0, 0.0, 0.0)
                yield at_step(last, work.side, words, abs(error[0]))
            held = work.lenses(last)
        elif abs(now.sphere_d - held.sphere_d) > LEAST_D and now.cylinder_d == held.cylinder_d:
            held = now


def _compensated(work: EyeWork, held: Lenses, now: Lenses, after: Sequence[Step]) -> bool:
    due = (now.cylinder_d - held.cylinder_d) / 2.0
    moved = [work.lenses(step).sphere_d - held.sphere_d for step in after]
    return any(change * due > 0.0 and abs(change) >= abs(due) / 2.0 - 1e-6 for change in moved)


def _left_off(work: EyeWork, held: Lenses, now: Lenses, step: Step) -> bool:
    error = step.in_frame[work.side]
    more = now.cylinder_d > held.cylinder_d  # more minus cylinder leaves too much minus
    return error is not None and (error[0] if more else -error[0]) > OFF_D


def no_return(scene: Scene) -> Iterator[Evidence]:
    """Yield each eye's last change of cylinder, if the sphere was not asked about with it."""
    for work in scene.worked:
        last = _last_cylinder_change(work)
        if last is None:
            continue
        if not tried_sphere_last(work):
            end = work.end_step or last
            words = f"The last change of cylinder before the {SIDE_NAMES[work.side]} eye."
            error = end.in_frame[work.side] or (0.0, 0.0, 0.0)
            yield at_step(last, work.side, words, abs(error[0]))


def tried_sphere_last(work: EyeWork) -> bool:
    """Say whether the sphere was asked about with the last cylinder, or after it was changed."""
    last = _last_cylinder_change(work)
    if last is None:
        return _sphere_tried(work.looks)
    cylinder_d = work.lenses(last).cylinder_d
    later = [look for look in work.looks if look.number >= last.number]
    same = [look for look in work.looks if abs(look.lenses.cylinder_d - cylinder_d) <= LEAST_D]
    return _sphere_tried(later) or _sphere_tried(same)


def _sphere_tried(looks: Sequence[Look]) -> bool:
    return any(
        _about_sphere(before, look) for before, look in zip((None, *looks), looks, strict=False)
    )


def _last_cylinder_change(work: EyeWork) -> Step | None:
    """Return the step of the last change of the cylinder's power after the first question."""
    first = next((look.number for look in work.looks), None)
    changed = [
        step
        for before, step in pairwise(work.steps)
        if abs(work.lenses(step).cylinder_d - work.lenses(before).cylinder_d) > LEAST_D
        if first is not None and step.number > first and step.in_frame[work.side] is not None
    ]
    return changed[-1] if changed else None


def _about_sphere(before: Look | None, look: Look) -> bool:
    """Say whether a question tried the sphere: by two colours, a pair, or another sphere."""
    if look.question == Question.COLOUR or look.paired:
        return True
    if look.question in READING:
        return before is not None and _moved(before, look)
    if look.question not in ABOUT_CHANGE:
        return False
    was = _lenses_before_change(look)
    return was is not None and abs(was.sphere_d - look.lenses.sphere_d) > LEAST_D


def _lenses_before_change(look: Look) -> Lenses | None:
    """Return what stood before the eye until the last change, which a question is about."""
    seen = look.step.state.before
    return None if seen is None else lenses_before(seen, look.side)


def _moved(before: Look, look: Look) -> bool:
    return abs(before.lenses.sphere_d - look.lenses.sphere_d) > LEAST_D


def two_at_once(scene: Scene) -> Iterator[Evidence]:
    """Yield each question about a change that was of sphere and of cylinder, the mean not kept."""
    for work in scene.worked:
        for before, look in pairwise(work.looks):
            if look.question not in ABOUT_CHANGE or _after_cross(before, look):
                continue
            mean = abs(look.lenses.mean_d - before.lenses.mean_d)
            if before.lenses.count and _both_moved(before, look) and mean > LEAST_D:
                yield at_look(look, "Sphere and cylinder were both new.", mean)


def _after_cross(before: Look, look: Look) -> bool:
    """Say whether the cylinder only followed a clear answer, and the question is of a sphere."""
    was = _lenses_before_change(look)
    answered = before.crossed and before.code in ("first", "second")
    return answered and was is not None and was.cylinders == look.lenses.cylinders


def _both_moved(before: Look, look: Look) -> bool:
    (_, a, b), (_, c, d) = before.lenses.vector, look.lenses.vector
    return _moved(before, look) and cylinder_left_d((0.0, a - c, b - d)) > LEAST_D
