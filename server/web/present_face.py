"""The face behind the frame, from the examiner's side, as numbers for the drawing.

The patient's right eye is drawn on the left. The pupils stay; the frame's rings, crossed
sighting lines and degree scales move with its settings.
"""

import math

from optics.light.lens import EyeSide, LensKind, PlacedLens
from optics.light.power import PLANO
from server.attempts.seat import FitEffect, fit_effect
from server.attempts.state import Fit, State
from server.casebook import Case
from server.web.contexts import AxisLine, FaceEye, FitField
from server.web.notation import Notation

UNITS_PER_MM = 3.7
LEAST_PRISM_PD = 0.05
MIDDLE_X, MIDDLE_Y, RADIUS = 310.0, 92.0, 52.0


def face_eyes(case: Case, state: State) -> tuple[FaceEye, ...]:
    """Return both eyes as they are drawn, the patient's right first."""
    return tuple(_face_eye(case, state, side) for side in EyeSide)


def _face_eye(case: Case, state: State, side: EyeSide) -> FaceEye:
    right = side is EyeSide.RIGHT
    outward = -UNITS_PER_MM if right else UNITS_PER_MM
    frame_pd = state.fit.pd_right_mm if right else state.fit.pd_left_mm
    x = MIDDLE_X + outward * frame_pd
    y = MIDDLE_Y - UNITS_PER_MM * state.fit.height_mm
    stack = [placed for _, placed in state.frame.before(side)]
    kinds = {placed.lens.kind for placed in stack}
    return FaceEye(
        side=side.value,
        name="patient's right" if right else "patient's left",
        pupil_x=f"{MIDDLE_X + outward * case.pd_mm[0 if right else 1]:.1f}",
        centre_x=f"{x:.1f}",
        centre_y=f"{y:.1f}",
        covered=LensKind.OCCLUDER in kinds,
        blocked=_opening(kinds),
        lines=tuple(_line(placed, x, y) for placed in stack if placed.lens.turns),
    )


def _opening(kinds: set[LensKind]) -> str:
    if LensKind.PINHOLE in kinds:
        return "pinhole"
    return "slit" if LensKind.SLIT in kinds else ""


def _line(placed: PlacedLens, x: float, y: float) -> AxisLine:
    """Return the axis across the scale; a prism's base as a line from the centre outward."""
    angle = math.radians(placed.direction_deg)
    dx, dy = RADIUS * math.cos(angle), -RADIUS * math.sin(angle)
    back = 0.0 if placed.lens.kind is LensKind.PRISM else 1.0
    return AxisLine(
        kind=placed.lens.kind.value,
        direction=f"{placed.direction_deg:.0f}",
        x1=f"{x - back * dx:.1f}",
        y1=f"{y - back * dy:.1f}",
        x2=f"{x + dx:.1f}",
        y2=f"{y + dy:.1f}",
    )


def fit_fields(fit: Fit) -> tuple[FitField, ...]:
    """Return the frame's settings as fields."""
    return tuple(
        FitField(name=name, label=label, value=f"{value:g}", unit=unit, step=step)
        for name, label, value, unit, step in (
            ("pd_right_mm", "Right half PD", fit.pd_right_mm, "mm", "0.5"),
            ("pd_left_mm", "Left half PD", fit.pd_left_mm, "mm", "0.5"),
            ("height_mm", "Height", fit.height_mm, "mm", "0.5"),
            ("tilt_deg", "Tilt", fit.tilt_deg, "°", "1"),
            ("wrap_deg", "Wrap", fit.wrap_deg, "°", "1"),
            ("vertex_mm", "Vertex", fit.vertex_mm, "mm", "0.5"),
        )
    )


def fit_effects(case: Case, state: State, notation: Notation) -> tuple[str, ...]:
    """Return what the fit does before each eye, in words: it tells of lenses and frame alone."""
    return tuple(_effect_words(fit_effect(case, state, side), notation) for side in EyeSide)


def _effect_words(effect: FitEffect, notation: Notation) -> str:
    right = effect.side is EyeSide.RIGHT
    across_pd, up_pd = effect.prism_pd
    inward_pd = across_pd if right else -across_pd  # the examiner sees the right eye on the left
    parts = [
        f"{abs(size_pd):.1f}Δ base {words[0] if size_pd > 0 else words[1]}"
        for size_pd, words in ((inward_pd, ("in", "out")), (up_pd, ("up", "down")))
        if abs(size_pd) >= LEAST_PRISM_PD
    ]
    prism = " and ".join(parts) or "no prism"
    oblique = notation.lens_text(effect.oblique)
    tilt = "nothing" if oblique == notation.lens_text(PLANO) else oblique
    return f"{'Right' if right else 'Left'}: {prism} by the centres, {tilt} by tilt and wrap"
