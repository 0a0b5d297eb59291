"""Comparing two views: chances of first, second and about the same, from their clarities."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from optics.patient.traits import LEADING_SD, ORDINARY, Manner, Traits
from optics.sight.clarity import COMPARISON_SD, clarity
from optics.sight.details import LETTERS, Detail
from optics.sight.probit import chance_below
from optics.sight.view import EyeView, View

FIRST, SECOND, SAME = "first", "second", "same"
Chances = Mapping[str, float]
LOOKED_ABOVE_LOGMAR = 0.1  # of a chart a line above the smallest that is read; common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The chances of each reply of a question's closed set; they add up to 1.

    ``facts`` are the numbers behind, in standard deviations of the ordinary person's noise
    unless their names say otherwise.
    """

    chances: Chances
    facts: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What is looked at in both views: a detail of the stroke of a letter size."""

    size_logmar: float
    detail: Detail = LETTERS


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Who is asked, how, and after how many minutes."""

    traits: Traits = ORDINARY
    manner: Manner = Manner.OFFERED
    minutes: float = 0.0

    @property
    def noise(self) -> float:
        """The noise of this moment, 1 for an ordinary person."""
        return self.traits.noise_after(self.minutes)


def pair_chances(ahead_sd: float, asked: Asked, toward_second_sd: float = 0.0) -> dict[str, float]:
    """Return the chances of first, second and same.

    ``ahead_sd`` is how much clearer the first is, in standard deviations of the ordinary noise;
    ``toward_second_sd`` what leans to the second beside the person's own lean.
    """
    traits = asked.traits
    leaning = traits.lean_sd + toward_second_sd
    if asked.manner is Manner.LEADING:
        leaning += LEADING_SD * (1.0 + 2.0 * traits.suggestible)
    band = traits.band_sd if asked.manner is Manner.OFFERED else 0.0
    middle = ahead_sd / asked.noise - leaning
    first, second = chance_below(middle - band), chance_below(-middle - band)
    chances = {FIRST: first, SECOND: second, SAME: max(0.0, 1.0 - first - second)}
    return with_lapses(chances, traits.lapse, asked.manner is not Manner.OFFERED)


def with_lapses(chances: Mapping[str, float], lapse: float, forced: bool) -> dict[str, float]:
    """Return chances with a share of answers given without looking, evenly over what may be said.

    Where a choice is demanded nobody says "same".
    """
    said = [reply for reply in chances if not (forced and reply == SAME)]
    return {
        reply: (1.0 - lapse) * chance + (lapse / len(said) if reply in said else 0.0)
        for reply, chance in chances.items()
    }


def clarity_of(eye: EyeView | None, looked: Looked) -> float:
    """Return how clear a detail is to an eye; 0 in the dark."""
    if eye is None or eye.transfer is None:
        return 0.0
    return float(clarity(eye.transfer, (looked.size_logmar,), eye.nerve, looked.detail)[0])


def ahead_sd(first: View, second: View, looked: Looked) -> float:
    """Return how much clearer the first view is, in standard deviations of the ordinary noise."""
    one, other = clarity_of(first.better, looked), clarity_of(second.better, looked)
    return (one - other) / COMPARISON_SD


def which_is_clearer(first: View, second: View, looked: Looked, asked: Asked) -> Answer:
    """Return the answer to "which is clearer, first or second?"."""
    ahead = ahead_sd(first, second, looked)
    return Answer(chances=pair_chances(ahead, asked), facts={"ahead": ahead})
