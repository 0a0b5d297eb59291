"""What the lens of the eye can add and what it holds on to, in D."""

import math


def objective_amplitude_d(age_y: float) -> float:
    """Return the mean objective amplitude at an age.

    Anderson HA, Hentz G, Glasser A, Stuebing KK, Manny RE. IOVS 2008;49:2919-2926: the sigmoid
    for all ages. Push-up amplitudes are larger since they contain the depth of focus.
    """
    return 7.083 / (1.0 + math.exp(0.2031 * (age_y - 36.2) - 0.6109))


RELAXES_IN_S = 120.0  # under fog; common practice, no source


def held_d(floor_d: float, latent_d: float, fogged_s: float) -> float:
    """Return the accommodation that stays after that many seconds under fog.

    The latent part relaxes exponentially towards the floor.
    """
    return floor_d + latent_d * math.exp(-max(fogged_s, 0.0) / RELAXES_IN_S)
