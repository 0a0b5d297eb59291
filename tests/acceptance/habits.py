"""Rows on habits: lapses, leaning, leading questions, noise and tiring shift replies as stated.

A reply's chance is turned into standard deviations by the normal distribution's inverse; what
a habit is said to shift must come out of the chances again, on views of real eyes.
"""

from collections.abc import Iterator, Mapping, Sequence
from statistics import NormalDist

import numpy as np

from optics.patient.change import BETTER, better_or_worse
from optics.patient.compare import FIRST, SAME, SECOND, Answer, Asked, Looked, which_is_clearer
from optics.patient.traits import Manner, Traits
from optics.sight.view import View
from tests.acceptance.check import Check, mean
from tests.acceptance.eyes import SHARP, Tested

CHANGE_D = 0.15
EXACTLY = 0.005  # what is stated, to the last digit printed


def habits(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield one row a habit."""
    pairs = [(one.view(SHARP), one.view((CHANGE_D, 0.0, 0.0)), one.line_logmar) for one in eyes]
    for name, chance, stated, (with_it, without) in (
        ("leans 1 sd to the second", FIRST, -1.0, (Asked(traits=Traits(lean_sd=1.0)), Asked())),
        ("leading question", FIRST, -0.5, (_put(Manner.LEADING), _put(Manner.FORCED))),
        (
            "leading question, wholly suggestible",
            FIRST,
            -1.5,
            (_put(Manner.LEADING, suggestible=1.0), _put(Manner.FORCED)),
        ),
        ("choice demanded: the band of 0.6 goes", FIRST, 0.6, (_put(Manner.FORCED), Asked())),
    ):
        shifts = [
            _sd(_told(pair, with_it), chance) - _sd(_told(pair, without), chance) for pair in pairs
        ]
        yield _row(f"{name}: shift of 'first' in sd", shifts, stated)
    wished = [
        _sd(_better(pair, Traits(suggestible=1.0)), BETTER) - _sd(_better(pair, Traits()), BETTER)
        for pair in pairs
    ]
    yield _row("wholly suggestible: shift of 'better' in sd", wished, 1.0)
    for name, asked in (
        ("noise 2", Asked(traits=Traits(noise=2.0))),
        ("20 minutes of one who tires", Asked(traits=Traits(tires=1.0), minutes=20.0)),
    ):
        # the band is in units of the person's own noise, so only the difference shrinks
        parts = [_difference(_told(p, asked)) / _difference(_told(p, Asked())) for p in pairs]
        yield _row(f"{name}: what is left of a difference in sd", parts, 0.5)
    for reply in (FIRST, SECOND, SAME):
        without = [_told(pair, Asked())[reply] for pair in pairs]
        lapsing = [_told(pair, Asked(traits=Traits(lapse=0.3)))[reply] for pair in pairs]
        moved = [
            after - (0.7 * before + 0.1) for before, after in zip(without, lapsing, strict=True)
        ]
        yield _row(f"3 of 10 answers without looking: '{reply}' beyond 0.7 p + 0.1", moved, 0.0)


Pair = tuple[View, View, float]


def _put(manner: Manner, suggestible: float = 0.0) -> Asked:
    return Asked(traits=Traits(suggestible=suggestible), manner=manner)


def _told(pair: Pair, asked: Asked) -> Mapping[str, float]:
    first, second, line = pair
    return which_is_clearer(first, second, Looked(size_logmar=line), asked).chances


def _better(pair: Pair, traits: Traits) -> Mapping[str, float]:
    now, before, line = pair
    answer: Answer = better_or_worse(now, before, Looked(size_logmar=line), Asked(traits=traits))
    return answer.chances


def _sd(chances: Mapping[str, float], reply: str) -> float:
    return NormalDist().inv_cdf(chances[reply])


def _difference(chances: Mapping[str, float]) -> float:
    """Return by how many sd of this person's noise the first is clearer."""
    return (_sd(chances, FIRST) - _sd(chances, SECOND)) / 2.0


def _row(name: str, values: Sequence[float], stated: float) -> Check:
    return Check(
        name=name,
        values=np.array(values),
        statistic=mean,
        least=stated - EXACTLY,
        most=stated + EXACTLY,
        ours=True,
    )
