"""What the lens of the eye can add: objective amplitude of accommodation by age, in D."""

import math


def objective_amplitude_d(age_y: float) -> float:
    """Return the mean objective amplitude at an age.

    Anderson HA, Hentz G, Glasser A, Stuebing KK, Manny RE. IOVS 2008;49:2919-2926: the sigmoid
    for all ages. Push-up amplitudes are larger since they contain the depth of focus.
    """
    return 7.083 / (1.0 + math.exp(0.2031 * (age_y - 36.2) - 0.6109))
