"""The faults that an attempt shows, each with its evidence in the log."""

from collections.abc import Callable, Iterator, Mapping

from optics.errors import OpticsError
from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder
from server.casebook import Case
from server.marking.accuracy import recorded_lens
from server.marking.faults import (
    before,
    card,
    crossing,
    duochrome,
    finishing,
    fitting,
    sphere,
    talking,
    turning,
)
from server.marking.faults.fault import Evidence, Fault, Kind, Scene
from server.marking.looks import work_of
from server.marking.rubric import RUBRIC, Rubric
from server.marking.steps import Step, Truths

__all__ = ["FINDERS", "Evidence", "Fault", "found", "scene_of"]

FINDERS: tuple[tuple[Kind, Callable[[Scene], Iterator[Evidence]]], ...] = (
    (fitting.NOT_FITTED, fitting.not_fitted),
    (fitting.PD_WRONG, fitting.pd_wrong),
    (fitting.VERTEX, fitting.vertex_not_recorded),
    (before.UNAIDED, before.no_unaided),
    (before.OTHER_OPEN, before.other_open),
    (before.NO_PINHOLE, before.pinhole_skipped),
    (before.SOLE_GROUND, before.pinhole_alone),
    (sphere.NO_FOG, sphere.no_fog),
    (sphere.MINUS, sphere.minus_accepted),
    (sphere.STEP_SIZE, sphere.step_size),
    (sphere.PLUS_OUT, sphere.plus_out_first),
    (crossing.TOO_EARLY, crossing.too_early),
    (crossing.POWER_FIRST, crossing.power_first),
    (crossing.CROSS_SIZE, crossing.cross_size),
    (crossing.ASKEW, crossing.askew),
    (turning.WRONG_WAY, turning.wrong_way),
    (turning.TURN_SIZE, turning.turn_size),
    (turning.STOPPED, turning.stopped_early),
    (finishing.UNCOMPENSATED, finishing.uncompensated),
    (finishing.NO_RETURN, finishing.no_return),
    (finishing.TWO_AT_ONCE, finishing.two_at_once),
    (duochrome.MISUSED, duochrome.misused),
    (duochrome.BACKWARDS, duochrome.backwards),
    (fitting.WRONG_CELL, fitting.wrong_cell),
    (fitting.STACKED, fitting.stacked),
    (talking.LEADING, talking.leading),
    (talking.FORCED, talking.forced),
    (talking.REPEATED, talking.repeated),
    (card.SWAPPED, card.swapped),
    (card.SIGN, card.sign_lost),
    (card.WARNING, card.warning_missed),
    (card.PRESCRIBED, card.prescribed_against),
)


def found(
    steps: tuple[Step, ...],
    case: Case,
    record: Mapping[str, str],
    truths: Truths,
    rubric: Rubric = RUBRIC,
) -> tuple[Fault, ...]:
    """Return the faults of an attempt, in the order of a refraction; charges by weight alone."""
    return faults_in(scene_of(steps, case, record, truths), rubric)


def faults_in(scene: Scene, rubric: Rubric) -> tuple[Fault, ...]:
    """Return the faults of a scene."""
    charges = {"minor": rubric.minor, "major": rubric.major, "critical": rubric.critical}
    shown = [(kind, tuple(finder(scene))) for kind, finder in FINDERS]
    return tuple(kind.shown(evidence, charges[kind.weight]) for kind, evidence in shown if evidence)


def scene_of(
    steps: tuple[Step, ...], case: Case, record: Mapping[str, str], truths: Truths
) -> Scene:
    """Return what faults are looked for in. A lens that cannot be read counts as not recorded."""
    recorded = {side: _recorded(record, side) for side in EyeSide}
    return Scene(
        case=case, steps=steps, record=record, truths=truths, work=work_of(steps, recorded)
    )


def _recorded(record: Mapping[str, str], side: EyeSide) -> SpheroCylinder | None:
    try:
        return recorded_lens(record, SIDE_NAMES[side])
    except OpticsError:
        return None
