"""Letter acuity: a reader who lays remembered sharp letters on what it sees.

The image of each of the ten letters, filtered by the optics and the neural transfer, is
compared with the sharp letters, laid where the mean letter fits, separately at each size; the
best match under noise is the answer. A match by few orientations counts for less: strokes
sharp in one direction do not make up for those blurred at right angles. After Watson &
Ahumada, J Vision 2008;8(4):17 (optical filter, neural filter, white noise, templates);
constants fitted to published acuities.
"""

import math
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from optics.eye.grid import TransferFunction
from optics.eye.nerve import ORDINARY, Nerve
from optics.sight.details import Detail, DetailKind, contrast_power
from optics.sight.laying import fit_of, laid, reading_noise
from optics.sight.letters import RINGS, SLOAN, STEP_CYCLES, ring_spectra, sloan_spectra
from optics.sight.neural import neural_transfer
from optics.sight.orientation import part_taken, shares_of
from optics.sight.probit import normal_cdf, probit
from optics.sight.sampling import Sizes, at_letter_sizes
from optics.units import FloatArray, letter_height_deg

STEEPER = 1.35  # people's psychometric functions are steeper than a template reader's
SIZES: Sizes = tuple(round(-0.5 + 0.1 * step, 1) for step in range(29))  # to 2.3 logMAR
GUESS = 1.0 / len(SLOAN)
NEIGHBOUR = 0.125  # how much the next sizes count where acuity is sought
NODES, NODE_WEIGHTS = np.polynomial.hermite_e.hermegauss(14)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """How well letters, or rings, of several sizes are read.

    ``right`` has shape (sizes, letters): probability that a letter is named rightly;
    ``match`` (sizes, letters, letters): the noise-free match of letter i with memory j, in
    noise units; ``alphabet`` what they are.
    """

    alphabet: str = SLOAN
    sizes_logmar: Sizes
    right: FloatArray = field(repr=False)
    match: FloatArray = field(repr=False)

    def chance(self, letter: str, size_logmar: float) -> float:
        """Return the probability that a letter of that size is named rightly."""
        column = self.right[:, self.alphabet.index(letter)]
        return float(np.interp(size_logmar, self.sizes_logmar, column))

    def of_line(self, size_logmar: float) -> float:
        """Return the mean probability over all letters at a size."""
        return float(np.interp(size_logmar, self.sizes_logmar, self.right.mean(axis=1)))

    def named(self, letter: str, size_logmar: float) -> FloatArray:
        """Return the probabilities (letters,) of each answer to a letter of a size."""
        near = int(np.argmin(np.abs(np.array(self.sizes_logmar) - size_logmar)))
        index, right = self.alphabet.index(letter), self.chance(letter, size_logmar)
        wrong = _wrong_answers(self.match[near], index)
        answers: FloatArray = (1.0 - right) * wrong
        answers[index] = right
        return answers

    @property
    def acuity_logmar(self) -> float:
        """The size at which half the letters are read, corrected for guessing.

        The next larger and smaller sizes count a little: where two sizes are read alike, acuity
        would else jump from one to the other.
        """
        guess = 1.0 / len(self.alphabet)
        of_size = np.pad(self.right.mean(axis=1), 1, mode="edge")
        smooth = of_size[1:-1] + NEIGHBOUR * np.diff(of_size, 2)
        z = probit((smooth - guess) / (1.0 - guess))
        below = np.flatnonzero(z < 0.0)
        if not len(below):
            return self.sizes_logmar[0]
        last = int(below[-1])
        if last == len(z) - 1:
            return self.sizes_logmar[-1]
        small, large = self.sizes_logmar[last], self.sizes_logmar[last + 1]
        return float(small + (large - small) * (-z[last]) / (z[last + 1] - z[last]))


def read_letters(
    transfer: TransferFunction,
    sizes_logmar: Sizes = SIZES,
    nerve: Nerve = ORDINARY,
    alphabet: str = SLOAN,
) -> Reading:
    """Return how well an eye with that transfer function and nerve reads letters of those sizes.

    ``alphabet`` is Sloan's letters, or the rings.
    """
    table = _letter_table(sizes_logmar, nerve.loss, alphabet)
    seen = at_letter_sizes(transfer, sizes_logmar)
    noise = reading_noise(transfer, nerve)
    fitted = laid(seen, table.fit, noise)
    flat = (fitted * table.neural_squared).view(np.float32).astype(np.float64) @ table.pairs
    match = flat.reshape(-1, len(alphabet), len(alphabet)) * (table.scale / noise)
    match *= part_taken(table.shares, table.fit, seen)[:, np.newaxis, np.newaxis]
    return Reading(
        alphabet=alphabet,
        sizes_logmar=sizes_logmar,
        right=_steeper(_chances(match, table.similar)),
        match=match,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _LetterTable:
    """What depends on the letters and their sizes alone; memories are sharp."""

    neural_squared: FloatArray  # (sizes, points)
    pairs: FloatArray  # (2 points, letters squared), letter i times the conjugate of letter j
    fit: FloatArray  # (sizes, points), the mean letter's contrast as seen, by which it is laid
    scale: FloatArray  # (sizes, 1, letters)
    similar: FloatArray  # (sizes, letters, letters), correlation of the memories
    shares: FloatArray  # (sizes, orientations), each one's part of the mean letter's contrast


@lru_cache(maxsize=12)
def _letter_table(sizes_logmar: Sizes, loss: float, alphabet: str) -> _LetterTable:
    letters = ring_spectra() if alphabet == RINGS else sloan_spectra()
    count = len(alphabet)
    distinct = letters.distinct
    heights = np.array([letter_height_deg(size) for size in sizes_logmar])
    radius = np.hypot(letters.ux, letters.uy)
    neural_squared = neural_transfer(radius / heights[:, np.newaxis], loss) ** 2
    kind = DetailKind.RINGS if alphabet == RINGS else DetailKind.LETTERS
    contrast = contrast_power(Detail(kind=kind)) * neural_squared
    pairs = (distinct[:, np.newaxis] * distinct.conj()[np.newaxis]).reshape(count**2, -1)
    pairs = pairs * letters.count
    gram = (neural_squared @ pairs.real.T).reshape(-1, count, count)
    norms = np.sqrt(np.maximum(np.einsum("sii->si", gram), 1e-12))
    return _LetterTable(
        neural_squared=neural_squared.astype("f4"),
        pairs=pairs.conj().view(np.float64).T.copy(),
        fit=fit_of(contrast, heights),
        scale=(heights[:, np.newaxis] * STEP_CYCLES / norms)[:, np.newaxis, :],
        similar=gram / (norms[:, :, np.newaxis] * norms[:, np.newaxis, :]),
        shares=shares_of(contrast),
    )


def _chances(match: FloatArray, similar: FloatArray) -> FloatArray:
    """Return P (sizes, letters) that letter i beats the others, noise correlated as memories."""
    own = np.einsum("sii->si", match)[:, :, np.newaxis]
    spread = np.sqrt(np.maximum(1.0 - similar, 1e-9))
    ahead = (own - match) / spread
    np.einsum("sii->si", ahead)[...] = 99.0  # no letter has to beat itself
    others_first = np.ascontiguousarray(np.moveaxis(ahead, 2, 0), np.float32)
    nodes = NODES.astype(np.float32)[:, np.newaxis, np.newaxis]
    beats = normal_cdf(others_first[:, np.newaxis] + nodes).prod(axis=0, dtype=np.float64)
    chance: FloatArray = np.tensordot(NODE_WEIGHTS, beats, 1)
    return chance / math.sqrt(2.0 * math.pi)


def _steeper(right: FloatArray) -> FloatArray:
    """Return chances with the mean's probit made steeper; the threshold stays."""
    guess = 1.0 / right.shape[1]
    z = probit((right - guess) / (1.0 - guess))
    middle = probit((right.mean(axis=1, keepdims=True) - guess) / (1.0 - guess))
    steep: FloatArray = guess + (1.0 - guess) * normal_cdf(z + (STEEPER - 1.0) * middle)
    return steep


def _wrong_answers(match: FloatArray, index: int) -> FloatArray:
    """Return how wrong answers to letter ``index`` spread over the others, shape (letters,)."""
    near = match[index] - match[index].max()
    share = np.exp(np.clip(1.5 * near, -30.0, 0.0))
    share[index] = 0.0
    spread: FloatArray = share / share.sum()
    return spread
