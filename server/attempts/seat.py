"""The frame on a face: how its settings and the patient's half PDs place the lenses."""

from dataclasses import dataclass, replace

from optics.light.beam import beam_at_cornea
from optics.light.frame import Point, TrialFrame
from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder
from server.attempts.state import Fit, State
from server.casebook import Case


def seated(frame: TrialFrame, fit: Fit, pd_mm: tuple[float, float]) -> TrialFrame:
    """Return the frame as it sits: lens centres before the pupils, tilt and wrap.

    ``pd_mm`` are the patient's right and left half PD. A frame set wider than the patient has
    its centres outwards: to the examiner's left before the right eye, to the right before the
    left.
    """
    right_mm, left_mm = pd_mm
    return replace(
        frame,
        centre_right_mm=(right_mm - fit.pd_right_mm, fit.height_mm),
        centre_left_mm=(fit.pd_left_mm - left_mm, fit.height_mm),
        tilt_deg=fit.tilt_deg,
        wrap_deg=fit.wrap_deg,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FitEffect:
    """What the fit does before one eye, by lenses, frame and PD alone.

    ``prism_pd`` (base to the examiner's right, base up) comes of lenses off their centres;
    ``oblique`` is the power that tilt and wrap add at the cornea.
    """

    side: EyeSide
    prism_pd: Point
    oblique: SpheroCylinder


def fit_effect(case: Case, state: State, side: EyeSide) -> FitEffect:
    """Return what the fit of the frame does before an eye at a state."""
    frame = seated(state.frame, state.fit, case.pd_mm)
    upright = replace(frame, tilt_deg=0.0, wrap_deg=0.0)
    centred = replace(frame, centre_right_mm=(0.0, 0.0), centre_left_mm=(0.0, 0.0))
    as_it_is, untilted, straight = (
        beam_at_cornea(one, side, state.wall.distance_m) for one in (frame, upright, centred)
    )
    (x, y), (placed_x, placed_y) = as_it_is.prism_pd, straight.prism_pd
    return FitEffect(
        side=side,
        prism_pd=(x - placed_x, y - placed_y),
        oblique=as_it_is.beyond(untilted),
    )
