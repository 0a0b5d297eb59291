"""An exam's own eyes: a case drawn anew from the ranges that its file states."""

import math
import random

from optics.light.notation import parse_prescription
from optics.light.power import SpheroCylinder, from_vector, power_vector
from optics.units import FloatArray
from server.case_file import CaseFile, EyePart, EyeRangePart, StartPart

WORN_FURTHER_D, WORN_ASTRAY_D = 0.75, 0.15  # M further off in its own sense; J0, J45 either way


def drawn(file: CaseFile, dice: random.Random) -> CaseFile:
    """Return the same person with other eyes, drawn evenly from the ranges of the file.

    Neither eye's need is the stated one. Lenses worn are off it in the stated sense, by as much or
    more; an objective result keeps the size of its error, not the direction: else who knows the
    stated eye could work out the drawn one. All else stays. A file without ranges is returned as
    it is.
    """
    wanted = file.range
    if wanted is None:
        return file
    right = _drawn_eye(file.right, wanted.right, dice)
    left = _drawn_eye(file.left, wanted.left, dice)
    age = dice.randint(*wanted.age) if wanted.age else file.person.age
    return file.model_copy(
        update={
            "person": file.person.model_copy(update={"age": age}),
            "right": right,
            "left": left,
            "start": StartPart(
                worn_right=_worn(file.start.worn_right, file.right, right, dice),
                worn_left=_worn(file.start.worn_left, file.left, left, dice),
                objective_right=_objective(file.start.objective_right, file.right, right, dice),
                objective_left=_objective(file.start.objective_left, file.left, left, dice),
            ),
        }
    )


def _drawn_eye(stated: EyePart, wanted: EyeRangePart, dice: random.Random) -> EyePart:
    own = parse_prescription(stated.need).in_minus_cylinder()
    need = own
    while need == own:
        need = _drawn_need(own, wanted, dice)
    pd_mm = _number(wanted.pd_mm, dice) if wanted.pd_mm else stated.pd_mm
    return stated.model_copy(update={"need": _written(need), "pd_mm": pd_mm})


def _drawn_need(own: SpheroCylinder, wanted: EyeRangePart, dice: random.Random) -> SpheroCylinder:
    sphere_d = _number(wanted.sphere_d, dice)
    if wanted.cylinder_d is None or wanted.axis_deg is None:
        return SpheroCylinder(sphere_d=sphere_d, cylinder_d=own.cylinder_d, axis_deg=own.axis_deg)
    return SpheroCylinder(
        sphere_d=sphere_d,
        cylinder_d=_number(wanted.cylinder_d, dice),
        axis_deg=float(dice.randint(*wanted.axis_deg) % 180 or 180),
    )


def _number(pair: tuple[float, float], dice: random.Random) -> float:
    return round(dice.uniform(*pair), 2)  # as it is written


def _worn(text: str | None, stated: EyePart, own: EyePart, dice: random.Random) -> str | None:
    """Return spectacles off the own need as they are off the stated one, the mean often more."""
    if text is None:
        return None
    error = _error(text, stated)
    error[0] += math.copysign(dice.uniform(0.0, WORN_FURTHER_D), error[0])
    for part in (1, 2):
        error[part] += dice.uniform(-WORN_ASTRAY_D, WORN_ASTRAY_D)
    return _off_by(error, own)


def _objective(text: str | None, stated: EyePart, own: EyePart, dice: random.Random) -> str | None:
    """Return a result as wrong as the stated one, in any direction of power."""
    if text is None:
        return None
    cylinder_d = dice.gauss(0.0, 2.0)  # its J0 and J45 are half as long: as long as the sphere
    way = power_vector(
        SpheroCylinder(
            sphere_d=dice.gauss(0.0, 1.0) - cylinder_d / 2.0,
            cylinder_d=cylinder_d,
            axis_deg=dice.uniform(1.0, 180.0),
        )
    )
    return _off_by(way * (math.hypot(*_error(text, stated)) / math.hypot(*way)), own)


def _error(text: str, stated: EyePart) -> FloatArray:
    return _vector(text) - _vector(stated.need)


def _vector(text: str) -> FloatArray:
    return power_vector(parse_prescription(text))


def _off_by(error: FloatArray, own: EyePart) -> str:
    """Return a lens so far from a need, in quarters of a dioptre as lenses are made."""
    lens = from_vector(_vector(own.need) + error)
    return _written(
        SpheroCylinder(
            sphere_d=round(lens.sphere_d * 4.0) / 4.0,
            cylinder_d=round(lens.cylinder_d * 4.0) / 4.0,
            axis_deg=lens.axis_deg,
        )
    )


def _written(lens: SpheroCylinder) -> str:
    sphere = f"{lens.sphere_d:+.2f}"
    if lens.cylinder_d == 0.0:
        return sphere
    return f"{sphere}/{lens.cylinder_d:+.2f}x{round(lens.axis_deg) % 180 or 180}"
