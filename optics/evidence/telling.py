"""Which question would tell most now, and after which enough was known."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from optics.evidence.likelihood import Asking, RowRead, chances, log_chance_of_rows
from optics.evidence.posterior import Posterior
from optics.patient.questions import READING, Question
from optics.sight.targets import CHART_LINES_LOGMAR, LETTERS_A_ROW
from optics.units import FloatArray

NOTHING_BITS = 0.05  # a question that gave less told nothing
ENOUGH_D = 0.25  # standard deviation of the dioptric distance


def most_telling(
    known: Posterior, candidates: Mapping[str, Asking]
) -> tuple[tuple[str, float], ...]:
    """Return the candidates' names with the bits to be expected of them, the best first."""
    expected = [(name, expected_bits(known, asking)) for name, asking in candidates.items()]
    return tuple(sorted(expected, key=lambda one: -one[1]))


def expected_bits(known: Posterior, asking: Asking) -> float:
    """Return the mutual information of a question's reply and the end point, in bits.

    The mean over replies of what each would give; 0 where no model serves the question.
    """
    told = _chances_of_replies(known, asking)
    if not told:
        return 0.0
    here = known.shares.sum(axis=0)
    total = 0.0
    for chance in told:
        with np.errstate(under="ignore"):
            both = (known.shares * chance).sum(axis=0)  # of the reply and the end point
        whole = both.sum()
        some = (both > 1e-300) & (here > 1e-300)
        total += float(np.sum(both[some] * np.log2(both[some] / (here[some] * whole))))
    return max(0.0, total)


def _chances_of_replies(known: Posterior, asking: Asking) -> Sequence[FloatArray]:
    if asking.question not in READING:
        return tuple(chances(known.eyes, known.points, asking, known.widening).values())
    logs = [
        log_chance_of_rows(known.eyes, known.points, asking, rows, known.widening)
        for rows in _readings(asking)
    ]
    top = np.max(logs, axis=0)
    with np.errstate(under="ignore"):
        weights = [np.exp(log - top) for log in logs]
    whole = np.sum(weights, axis=0)
    return [weight / whole for weight in weights]


def _readings(asking: Asking) -> Iterable[tuple[RowRead, ...]]:
    """Yield readings that stand for all: a chart read to each of its lines, a line by letters."""
    if asking.question is Question.READ_LINE and asking.line_logmar is not None:
        for right in range(LETTERS_A_ROW + 1):
            yield (RowRead(size_logmar=asking.line_logmar, right=right, letters=LETTERS_A_ROW),)
        return
    for read in range(len(CHART_LINES_LOGMAR) + 1):
        yield tuple(
            RowRead(
                size_logmar=line,
                right=LETTERS_A_ROW if number < read else 0,
                letters=LETTERS_A_ROW,
            )
            for number, line in enumerate(CHART_LINES_LOGMAR[: read + 1])
        )


def enough_at(sds_d: Sequence[float], enough_d: float = ENOUGH_D) -> int | None:
    """Return from which answer on (counted from 0) the end point was known well enough.

    ``sds_d`` are the standard deviations of the dioptric distance after each answer; None if
    they are too large to the last.
    """
    last = max((i for i, sd in enumerate(sds_d) if sd > enough_d), default=-1)
    return last + 1 if last + 1 < len(sds_d) else None
