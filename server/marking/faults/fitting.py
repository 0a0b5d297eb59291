"""Faults of the frame: how it sits, which cells hold the lenses, how many they are."""

from collections.abc import Iterator
from dataclasses import replace

from optics.light.beam import Vector, beam_at_cornea
from optics.light.frame import SIDE_NAMES, Place, TrialFrame, place_name
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.lens_case import full_set
from server.attempts.seat import seated
from server.marking.faults.fault import (
    Evidence,
    Kind,
    Scene,
    Weight,
    at_look,
    at_step,
)
from server.marking.looks import EyeWork, Look
from server.marking.steps import Step

SITS_WITHIN_MM = 1.0
OFF_EYE_MM, OFF_BOTH_MM = 1.5, 2.0
STRONG_D = 4.0
SPARE_LENSES = 2

NOT_FITTED = Kind(
    key="frame-not-fitted",
    title="The first lens went in before the frame was fitted",
    weight=Weight.MAJOR,
    why="A lens {size:.1f} mm off its centre is a prism of {size:.1f} tenths for each dioptre.",
    instead="Set half PDs and height first, and look at the face until both pupils are centred.",
)
PD_WRONG = Kind(
    key="pd-wrong",
    title="The frame was fitted to another PD than the patient's",
    weight=Weight.MAJOR,
    part="accuracy",
    why="Centres {size:.1f} mm off give {size:.1f} tenths of a prism dioptre for each dioptre.",
    instead="Check each half PD against the pupil before the first question.",
)
WRONG_CELL = Kind(
    key="wrong-cell",
    title="A strong sphere stood in a front cell while the back cell was free",
    weight=Weight.MAJOR,
    why="There it did {size:.2f} D another thing to the eye than in the cell next to it.",
    instead="Put the strongest sphere into cell 1, nearest to the eye.",
)
STACKED = Kind(
    key="stack",
    title="The last lenses were not brought down to the fewest",
    weight=Weight.MINOR,
    why="The gaps between them make {size:.2f} D at the eye that the sum of their powers lacks.",
    instead="Replace the stack by one sphere and one cylinder, and check the acuity once more.",
)
VERTEX = Kind(
    key="vertex-not-recorded",
    title="A strong lens was recorded without its vertex distance",
    weight=Weight.MAJOR,
    part="accuracy",
    why="Worn 2 mm nearer or farther it is {size:.2f} D another lens.",
    instead="Write down the vertex distance whenever a power is beyond 4 D.",
)


def _off_mm(scene: Scene, step: Step) -> tuple[float, float]:
    right, left = scene.case.pd_mm
    fit = step.state.fit
    return abs(fit.pd_right_mm - right), abs(fit.pd_left_mm - left)


def not_fitted(scene: Scene) -> Iterator[Evidence]:
    """Yield the first lens if the frame sat off the pupils and nobody had fitted it."""
    first = _first_lens(scene)
    if first is None or any(step.kind == "fit" for step in _until(scene, first)):
        return
    off_mm = max(_off_mm(scene, first))
    if off_mm > SITS_WITHIN_MM:
        side = EyeSide(first.body.get("side", "R"))
        yield at_step(first, side, f"The centres stood {off_mm:.1f} mm off the pupil.", off_mm)


def pd_wrong(scene: Scene) -> Iterator[Evidence]:
    """Yield the first question through a lens with a frame that was fitted, but wrongly."""
    looks = sorted(
        (look for work in scene.worked for look in work.looks if look.lenses.count),
        key=lambda look: look.number,
    )
    if not looks or not any(step.kind == "fit" for step in _until(scene, looks[0].step)):
        return
    right, left = _off_mm(scene, looks[0].step)
    if max(right, left) > OFF_EYE_MM or right + left > OFF_BOTH_MM:
        words = f"The half PDs were off by {right:.1f} mm right and {left:.1f} mm left."
        yield at_look(looks[0], words, max(right, left))


def _first_lens(scene: Scene) -> Step | None:
    firsts = [work.first_lens for work in scene.worked if work.first_lens]
    return min(firsts, key=lambda step: step.number, default=None)


def _until(scene: Scene, last: Step) -> list[Step]:
    return [step for step in scene.steps if step.number <= last.number]


def wrong_cell(scene: Scene) -> Iterator[Evidence]:
    """Yield for each eye the first question through a strong sphere far from the eye."""
    for work in scene.worked:
        strong = ((look, _misplaced(look)) for look in work.looks)
        found = next(((look, place) for look, place in strong if place), None)
        if found:
            look, place = found
            frame = look.step.state.frame
            moved = _moved_back(frame, look.side, place)
            size = abs(_light(scene, look, frame)[0] - _light(scene, look, moved)[0])
            yield at_look(look, f"It stood in {place_name(work.side, place)}.", size)


def _misplaced(look: Look) -> Place | None:
    frame, side = look.step.state.frame, look.side
    if frame.at(side, Place.CELL_1) is not None:
        return None
    return next(
        (
            one.place
            for one in frame.fitted
            if one.side is side
            and one.placed.lens.kind is LensKind.SPHERE
            and abs(one.placed.lens.power_d) > STRONG_D
        ),
        None,
    )


def _moved_back(frame: TrialFrame, side: EyeSide, place: Place) -> TrialFrame:
    placed = frame.at(side, place)
    assert placed is not None
    return frame.without(side, place).with_lens(side, Place.CELL_1, placed)


def _light(scene: Scene, look: Look, frame: TrialFrame) -> Vector:
    state = look.step.state
    seat = seated(frame, state.fit, scene.case.pd_mm)
    return beam_at_cornea(seat, look.side, state.wall.distance_m).vergence


def stacked(scene: Scene) -> Iterator[Evidence]:
    """Yield for each eye the last question, if two lenses or a cylinder fewer would have done."""
    for work in scene.worked:
        look = next((one for one in reversed(work.looks) if one.lenses.count), None)
        if look is None:
            continue
        lenses = look.lenses
        spare = lenses.count - _fewest(look)
        if spare >= SPARE_LENSES or len(lenses.cylinders) > 1:
            size = abs(_light(scene, look, look.step.state.frame)[0] - _as_one(scene, look)[0])
            words = f"{lenses.count} lenses before the {SIDE_NAMES[work.side]} eye."
            yield at_look(look, words, size)


def _fewest(look: Look) -> int:
    lens = look.lenses.lens
    powers = full_set().powers(LensKind.SPHERE)
    single = any(abs(power - lens.sphere_d) < 1e-6 for power in powers)
    plano = abs(lens.sphere_d) < 1e-6
    return (0 if plano else 1 if single else 2) + (abs(lens.cylinder_d) > 1e-6)


def _as_one(scene: Scene, look: Look) -> Vector:
    """Return the light at the cornea through the sum of the lenses in cells 1 and 3."""
    lens, frame, side = look.lenses.lens, look.step.state.frame, look.side
    bare = replace(
        frame,
        fitted=tuple(
            one
            for one in frame.fitted
            if one.side is not side
            or one.placed.lens.kind not in (LensKind.SPHERE, LensKind.CYLINDER)
        ),
    )
    for place, kind, power_d, axis_deg in (
        (Place.CELL_1, LensKind.SPHERE, lens.sphere_d, 180.0),
        (Place.CELL_3, LensKind.CYLINDER, lens.cylinder_d, lens.axis_deg),
    ):
        if abs(power_d) > 1e-6 and bare.at(side, place) is None:
            one = TrialLens(kind=kind, power_d=power_d)
            placed = PlacedLens(lens=one, direction_deg=max(axis_deg, 1.0))
            bare = bare.with_lens(side, place, placed)
    return _light(scene, look, bare)


def vertex_not_recorded(scene: Scene) -> Iterator[Evidence]:
    """Yield each eye whose record has a strong lens, if the card has no vertex distance."""
    if scene.record.get("vertex"):
        return
    for work in scene.work.values():
        size = _strongest_d(work)
        if size > STRONG_D:
            changes_d = abs(size / (1.0 - 0.002 * size) - size)
            yield at_step(scene.end, work.side, f"A power of {size:.2f} D was recorded.", changes_d)


def _strongest_d(work: EyeWork) -> float:
    lens = work.recorded
    if lens is None:
        return 0.0
    return max(abs(lens.sphere_d), abs(lens.sphere_d + lens.cylinder_d))
