"""Faults in following the cross cylinder: turned away, by unsuited steps, stopped early."""

from collections.abc import Iterator

from optics.light.frame import SIDE_NAMES
from server.marking.crosses import Crossed, Shown, crosses_of, reversed_at, turned_deg
from server.marking.faults.fault import Evidence, Kind, Scene, Weight, at_look, cylinder_left_d
from server.marking.looks import ABOUT_LINES, EyeWork, Lenses

TURN_DEG = 1.0
# cylinder up to, first turn in degrees; the table leaves 0.25 D of cylinder at the least
FIRST_TURNS_DEG = (
    (0.50, (15.0, 20.0)),
    (1.00, (10.0, 10.0)),
    (2.00, (5.0, 5.0)),
    (99.0, (3.0, 3.0)),
)
OFTEN = 2
LEFT_D = 0.25  # of cylinder; less is next to nothing

WRONG_WAY = Kind(
    key="turned-away",
    title="The cylinder was turned away from the minus axis that was preferred",
    weight=Weight.MAJOR,
    why="Turned that way, {size:.2f} D of cylinder was left.",
    instead="Turn the axis of the minus cylinder toward the minus axis of the better face.",
)
TURN_SIZE = Kind(
    key="turn-size",
    title="The axis was turned in steps that do not suit the cylinder",
    weight=Weight.MINOR,
    why="A turn of {size:.0f} degrees there changes far too much or far too little to be told.",
    instead="Begin with 15 degrees to 0.50 D, 10 to 1.00, 5 to 2.00, then 3; halve on reversal.",
)
STOPPED = Kind(
    key="stopped-early",
    title="The cross cylinder was laid away while one face was still clearer",
    weight=Weight.MAJOR,
    why="{size:.2f} D of cylinder was still wrong.",
    instead="Go on until both faces look the same or the answer turns round.",
)


def wrong_way(scene: Scene) -> Iterator[Evidence]:
    """Yield each answer about the axis after which the cylinder was turned the other way."""
    for work in scene.worked:
        for one, after, number in _turns(work):
            turn = turned_deg(one.look.lenses.axis_deg, after.axis_deg)
            if abs(turn) >= TURN_DEG and turn * one.toward < 0:
                left_d = _cylinder_left_d(work, number)
                words = f"Turned by {turn:+.0f} degrees after “{one.look.code}”."
                yield at_look(one.look, words, left_d)


def _turns(work: EyeWork) -> Iterator[tuple[Crossed, Lenses, int]]:
    """Yield each clear answer about the axis with the lenses of the next question, or the end."""
    looks = {one.number: one for one in work.looks}
    numbers = sorted(looks)
    for one in crosses_of(work):
        if one.shown is not Shown.AXIS or one.toward == 0:
            continue
        later = [number for number in numbers if number > one.look.number]
        if later:
            after = looks[later[0]].lenses
            yield (one, after, later[0])
        else:
            after = work.lenses(work.steps[-1])
            yield (one, after, work.steps[-1].number)


def _cylinder_left_d(work: EyeWork, number: int) -> float:
    step = next(step for step in work.steps if step.number == number)
    error = step.in_frame[work.side]
    return 0.0 if error is None else cylinder_left_d(error)


def turn_size(scene: Scene) -> Iterator[Evidence]:
    """Yield turns over twice the usual, or before a reversal under half of it; from two on."""
    for work in scene.worked:
        found = []
        shown = crosses_of(work)
        for one, after, _ in _turns(work):
            turn = abs(turned_deg(one.look.lenses.axis_deg, after.axis_deg))
            index = shown.index(one)
            halved = any(
                reversed_at(shown, at) for at in range(index + 1) if shown[at].shown is Shown.AXIS
            )
            if turn >= TURN_DEG and _unsuited(turn, one.look.lenses.cylinder_d, halved):
                words = f"{turn:.0f} degrees at {one.look.lenses.cylinder_d:.2f} D."
                found.append(at_look(one.look, words, turn))
        yield from found if len(found) >= OFTEN else ()


def _unsuited(turn_deg: float, cylinder_d: float, halved: bool) -> bool:
    least, most = next(turns for upto, turns in FIRST_TURNS_DEG if cylinder_d <= upto + 1e-6)
    return turn_deg > 2.0 * most + 1e-6 or (not halved and turn_deg < 0.5 * least - 1e-6)


def stopped_early(scene: Scene) -> Iterator[Evidence]:
    """Yield each eye's last comparison, if it was clear, no reversal, and cylinder was left."""
    for work in scene.worked:
        shown = crosses_of(work)
        if not shown or shown[-1].toward == 0 or reversed_at(shown, len(shown) - 1):
            continue
        last = shown[-1]
        left_d = _cylinder_left_d(work, work.end_step.number) if work.end_step else 0.0
        if left_d >= LEFT_D and not _lines_later(work, last):
            words = f"The last answer of the {SIDE_NAMES[work.side]} eye was “{last.look.code}”."
            yield at_look(last.look, words, left_d)


def _lines_later(work: EyeWork, last: Crossed) -> bool:
    later = [one for one in work.looks if one.number > last.look.number]
    return any(one.question in ABOUT_LINES for one in later)
