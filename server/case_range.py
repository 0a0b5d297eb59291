"""An exam's own eyes: a case drawn anew from the ranges that its file states."""

import random

from optics.light.notation import parse_prescription
from optics.light.power import SpheroCylinder, from_vector, power_vector
from optics.units import FloatArray
from server.case_file import CaseFile, EyePart, EyeRangePart, StartPart


def drawn(file: CaseFile, dice: random.Random) -> CaseFile:
    """Return the same person with other eyes, drawn evenly from the ranges of the file.

    Neither eye's need is the stated one. What stands on the card at the start keeps its
    distance to the need; all else stays. A file without ranges is returned as it is.
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
            "start": _moved_start(file.start, _shift(file.right, right), _shift(file.left, left)),
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


def _shift(stated: EyePart, drawn_eye: EyePart) -> FloatArray:
    before, after = (parse_prescription(part.need) for part in (stated, drawn_eye))
    return power_vector(after) - power_vector(before)


def _moved_start(start: StartPart, right: FloatArray, left: FloatArray) -> StartPart:
    """Return what stands on the card, each lens moved with the need of its eye."""
    return StartPart(
        objective_right=_moved(start.objective_right, right),
        objective_left=_moved(start.objective_left, left),
        worn_right=_moved(start.worn_right, right),
        worn_left=_moved(start.worn_left, left),
    )


def _moved(text: str | None, shift: FloatArray) -> str | None:
    """Return a lens moved by a power vector, in quarters of a dioptre as lenses are made."""
    if text is None:
        return None
    lens = from_vector(power_vector(parse_prescription(text)) + shift)
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
