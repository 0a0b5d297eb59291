"""What a change of lens did: better or worse, only smaller and darker, more letters, does it clear.

Each compares the view now with the view before the last change.
"""

from optics.patient.compare import (
    FIRST,
    SAME,
    SECOND,
    Answer,
    Asked,
    Looked,
    ahead_sd,
    pair_chances,
)
from optics.sight.probit import chance_below
from optics.sight.targets import CHART_LINES_LOGMAR, LETTERS_A_ROW
from optics.sight.view import View

BETTER, WORSE = "better", "worse"
CLEARER, SMALLER = "clearer", "smaller-darker"
MORE, FEWER = "more", "fewer"
CLEARS, STAYS = "clears", "stays"
# "smaller and darker" is said of what only makes the eye work; common practice, no source
EFFORT_D, EFFORT_SPREAD_D = 0.20, 0.05
LETTERS_BAND, LETTERS_SD = 1.0, 1.5  # letters more or fewer that are noticed; no source


def better_or_worse(now: View, before: View, looked: Looked, asked: Asked) -> Answer:
    """Return the answer to "better, worse or the same with this?".

    What leads, or is wished for, is "better": the suggestible say so a little too soon.
    """
    ahead = ahead_sd(before, now, looked)
    told = pair_chances(ahead, asked, toward_second_sd=asked.traits.suggestible)
    chances = {BETTER: told[SECOND], WORSE: told[FIRST], SAME: told[SAME]}
    return Answer(chances=chances, facts={"ahead": -ahead})


def clearer_or_smaller(now: View, before: View, looked: Looked, asked: Asked) -> Answer:
    """Return the answer to "clearer, or only smaller and darker?": also worse, or the same.

    Where no clarity is gained but the eye had to accommodate more, it looks smaller and darker.
    """
    ahead = ahead_sd(before, now, looked)
    told = pair_chances(ahead, asked)
    effort_d = now.accommodation_d - before.accommodation_d
    share = chance_below((effort_d - EFFORT_D) / EFFORT_SPREAD_D)
    chances = {
        CLEARER: told[SECOND],
        SMALLER: told[SAME] * share,
        WORSE: told[FIRST],
        SAME: told[SAME] * (1.0 - share),
    }
    return Answer(chances=chances, facts={"ahead": -ahead, "effort_d": effort_d})


def letters_on_chart(view: View) -> float:
    """Return how many letters of the whole chart are expected to be read, five a line."""
    eye = view.better
    if eye is None or eye.reading is None:
        return 0.0
    return LETTERS_A_ROW * sum(eye.reading.of_line(size) for size in CHART_LINES_LOGMAR)


def more_letters(now: View, before: View, asked: Asked) -> Answer:
    """Return the answer to "can you read more letters?": more, fewer or the same."""
    gained = letters_on_chart(now) - letters_on_chart(before)
    spread = LETTERS_SD * asked.noise
    more, fewer = (chance_below((sign * gained - LETTERS_BAND) / spread) for sign in (1, -1))
    chances = {MORE: more, FEWER: fewer, SAME: max(0.0, 1.0 - more - fewer)}
    return Answer(chances=chances, facts={"letters": gained})


def clears_with_waiting(later: View, now: View, looked: Looked, asked: Asked) -> Answer:
    """Return the answer to "does it clear if you wait?": clears or stays."""
    gained = ahead_sd(later, now, looked)
    told = pair_chances(gained, asked)
    chances = {CLEARS: told[FIRST], STAYS: told[SAME] + told[SECOND]}
    return Answer(chances=chances, facts={"ahead": gained})
