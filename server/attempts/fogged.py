"""How long the eyes of a case have been under fog: what they hold on to relaxes with it."""

from collections.abc import Iterable
from functools import lru_cache

from optics.eye.accommodation import held_d
from optics.eye.eye import EyePair
from optics.eye.wavefront import over_refraction
from optics.light.beam import beam_at_cornea
from optics.light.frame import TrialFrame
from optics.light.lens import EyeSide
from server.attempts.clock import IN_S, OUT_S
from server.attempts.seat import seated
from server.attempts.state import State, lens_out, running_states
from server.casebook import Case
from server.store.log import Event

ENOUGH_D = 0.25  # in front of the retina; common practice, no source


def fogged_seconds(case: Case, events: Iterable[Event]) -> float:
    """Return for how many seconds every open eye's image has lain before the retina."""
    eyes = case.eyes
    if eyes.latent_d == 0.0:
        return 0.0
    fogged_s, state = 0.0, State()
    for event, after in running_states(events):
        stretches = [(state, after.clock_s - state.clock_s)]
        if event.kind == "exchange":
            stretches = [(state, OUT_S), (lens_out(state, event.body), IN_S)]
        for during, spent_s in stretches:
            if spent_s > 0.0 and is_fogged(case, during, fogged_s):
                fogged_s += spent_s
        state = after
    return fogged_s


def is_fogged(case: Case, state: State, fogged_s: float) -> bool:
    """Return whether every open eye is fogged, after so many seconds that it was before."""
    holds_d = held_d(case.eyes.floor_d, case.eyes.latent_d, fogged_s)
    frame = seated(state.seen_through, state.fit, case.pd_mm)
    needs_d = [_still_needed_d(case.eyes, frame, side, state.wall.distance_m) for side in EyeSide]
    open_d = [need for need in needs_d if need is not None]
    return bool(open_d) and all(need < holds_d - ENOUGH_D for need in open_d)


@lru_cache(maxsize=512)
def _still_needed_d(
    eyes: EyePair, frame: TrialFrame, side: EyeSide, distance_m: float
) -> float | None:
    """Return the mean sphere that an eye still needs, accommodation at zero; None if covered."""
    beam = beam_at_cornea(frame, side, distance_m)
    return None if beam.dark else over_refraction(eyes.eye(side), beam)[0]
