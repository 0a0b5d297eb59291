"""Faults in setting out with the cross cylinder: too early, power first, wrong size, askew."""

from collections.abc import Iterator

from optics.light.beam import Vector
from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from server.marking.crosses import ALIGNED_DEG, Crossed, Shown, crosses_of
from server.marking.faults.fault import (
    Evidence,
    Kind,
    Scene,
    Weight,
    at_look,
    at_step,
    cylinder_left_d,
)
from server.marking.faults.sphere import cylinder_sought
from server.marking.looks import ABOUT_LINES, EyeWork

FAR_D = 0.5
SIZES_D = ((0.30, 0.25), (0.70, 0.50), (9.0, 1.00))  # to 6/12, to 6/30, worse
NEAR_LIMIT_LOGMAR = 0.05
OLD_Y, SMALL_PUPIL_MM = 60, 3.0
WRONG_TIMES = 2
LEANS = ("fan", "block")

TOO_EARLY = Kind(
    key="cylinder-before-sphere",
    title="The cylinder was sought before the best sphere was found",
    weight=Weight.MAJOR,
    why="With {size:.2f} D of sphere still wrong, that blur drowns what a cylinder changes.",
    instead="Find the sphere with the most letters first; then take up the cross cylinder.",
)
POWER_FIRST = Kind(
    key="power-before-axis",
    title="The power of the cylinder was tried before its axis",
    weight=Weight.MINOR,
    why="On a wrong axis no power is right, and {size:.2f} D of cylinder was left.",
    instead="Lay the handle along the axis first; try the power when both faces look the same.",
)
CROSS_SIZE = Kind(
    key="cross-size",
    title="The cross cylinder did not suit the acuity",
    weight=Weight.MINOR,
    why="A ±{size:.2f} was held: too weak shows no difference, too strong blurs both faces.",
    instead="Take ±0.25 to 6/12, ±0.50 to 6/30 and ±1.00 beyond; one size more for small pupils.",
)
ASKEW = Kind(
    key="cross-askew",
    title="The handle of the cross cylinder lay neither along the axis nor 45 degrees off",
    weight=Weight.MAJOR,
    why="{size:.0f} degrees askew the two faces mix axis and power, and the answer means neither.",
    instead="Let the handle follow: along the cylinder's axis for the axis, 45 off for the power.",
)


def too_early(scene: Scene) -> Iterator[Evidence]:
    """Yield the first cylinder of each eye, if no sphere had come near the best before it."""
    for work in scene.worked:
        first = cylinder_sought(scene, work)
        if first is None or first.state.wall.view in LEANS:
            continue
        error = first.in_frame[work.side]
        near = any(not _far(look.error) for look in work.looks if look.number < first.number)
        if error is not None and _far(error) and not near:
            words = f"The first cylinder of the {SIDE_NAMES[work.side]} eye."
            yield at_step(first, work.side, words, abs(error[0]))


def _far(error: Vector) -> bool:
    """Say whether letters must have told so: over 0.50 D off, and not within the rear focal line.

    With a strong cylinder left letters hardly change from that line, half the cylinder too much
    plus, to the circle of least confusion (measured on our own eyes, DEVELOPERS.md).
    """
    most_plus_d = max(FAR_D, cylinder_left_d(error) / 2.0)
    return not -most_plus_d - 1e-6 <= error[0] <= FAR_D + 1e-6


def power_first(scene: Scene) -> Iterator[Evidence]:
    """Yield the first comparison of power of each eye that no comparison of axis came before."""
    for work in scene.worked:
        shown = [one for one in crosses_of(work) if one.shown in (Shown.AXIS, Shown.POWER)]
        if shown and shown[0].shown is Shown.POWER and not _lines_asked(work, shown[0]):
            look = shown[0].look
            words = "The handle lay 45 degrees off the axis."
            yield at_look(look, words, cylinder_left_d(look.error))


def _lines_asked(work: EyeWork, before: Crossed) -> bool:
    asked = {one.question for one in work.looks if one.number < before.look.number}
    return bool(asked & ABOUT_LINES)  # the fan has shown the axis


def cross_size(scene: Scene) -> Iterator[Evidence]:
    """Yield comparisons with a cross cylinder that does not suit the acuity, from two on."""
    for work in scene.worked:
        found = []
        crosses = crosses_of(work)
        for index, one in enumerate(crosses):
            acuity = work.acuity_at(one.look)
            unsure = any(before.toward == 0 for before in crosses[:index])
            if acuity is not None and not _suits(scene, work.side, one.power_d, acuity, unsure):
                words = f"±{one.power_d:.2f} at 6/{6 * 10**acuity:.0f}."
                found.append(at_look(one.look, words, one.power_d))
        yield from found if len(found) >= WRONG_TIMES else ()


def _suits(scene: Scene, side: EyeSide, power_d: float, acuity: float, unsure: bool) -> bool:
    sizes = [size for _, size in SIZES_D]
    allowed = {_size_for(acuity + shift) for shift in (-NEAR_LIMIT_LOGMAR, 0, NEAR_LIMIT_LOGMAR)}
    pupil = scene.case.eyes.eye(side).pupil_mm
    if unsure or scene.case.age_y >= OLD_Y or (pupil is not None and pupil <= SMALL_PUPIL_MM):
        larger = sizes.index(max(allowed)) + 1
        allowed |= set(sizes[larger : larger + 1])
    return power_d in allowed


def _size_for(acuity_logmar: float) -> float:
    return next(size for upto, size in SIZES_D if acuity_logmar <= upto + 1e-6)


def askew(scene: Scene) -> Iterator[Evidence]:
    """Yield comparisons with the handle more than 5 degrees from where it belongs."""
    for work in scene.worked:
        for one in crosses_of(work):
            if one.shown is Shown.ASKEW:
                words = (
                    f"The handle lay {one.askew_deg:.0f} degrees off, more than {ALIGNED_DEG:.0f}."
                )
                yield at_look(one.look, words, one.askew_deg)
