"""The two-colour test: letters on red compared with letters on green."""

from optics.eye.transfer import transfer_function
from optics.patient.compare import FIRST, SAME, SECOND, Answer, Asked, pair_chances
from optics.sight.clarity import COMPARISON_SD, clarity
from optics.sight.view import EyeView

RED, GREEN, NEITHER = "red", "green", "same"
UNSEEN = "unseen"
PANELS = ("red-panel", "green-panel")
# comparing across colours is harder: with the letters' own noise "same" would never be said, with
# twice as much a quarter dioptre of plus too much would be missed too often; common practice, no
# source
NOISE_FACTOR = 1.6


def red_or_green(eye: EyeView | None, size_logmar: float, asked: Asked) -> Answer:
    """Return the answer to "clearer on the red or on the green?"; unseen where no light comes.

    Through a red or green glass the other panel is dark: the one that is seen is named.
    """
    if eye is None or eye.dark:
        return Answer(chances={UNSEEN: 1.0})
    red, green = (_clarity_on(eye, panel, size_logmar) for panel in PANELS)
    ahead = (red - green) / (COMPARISON_SD * NOISE_FACTOR)
    told = pair_chances(ahead, asked)
    chances = {RED: told[FIRST], GREEN: told[SECOND], NEITHER: told[SAME]}
    return Answer(chances=chances, facts={"ahead": ahead, "red": red, "green": green})


def _clarity_on(eye: EyeView, panel: str, size_logmar: float) -> float:
    transfer = transfer_function(eye.wavefront, filters=(*eye.filters, panel))
    if transfer is None:
        return 0.0
    return float(clarity(transfer, (size_logmar,), eye.nerve)[0])
