"""Letter acuity: a reader who lays remembered sharp letters on what it sees.

The image of each of the ten letters, filtered by the optics and the neural transfer, is
compared with the sharp letters, laid where the mean letter fits best, separately at each
size; the best match under noise is the answer. After Watson & Ahumada, J Vision 2008;8(4):17
(optical filter, neural filter, white noise, templates); constants fitted to published acuities.
"""

import math
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from optics.eye.grid import TransferFunction
from optics.eye.nerve import ORDINARY, Nerve
from optics.sight.letters import RINGS, SLOAN, STEP_CYCLES, ring_spectra, sloan_spectra
from optics.sight.neural import neural_transfer
from optics.sight.probit import normal_cdf, probit
from optics.sight.sampling import Sizes, at_letter_sizes
from optics.units import ComplexArray, FloatArray, letter_height_deg

NOISE = 0.0812  # for the mean eye's acuity in focus, -0.125 logMAR at 4 mm
STEEPER = 1.6  # people's psychometric functions are steeper than a template reader's
LIGHT_EXPONENT = 0.175  # noise grows as light is lost: 0.02 logMAR a halving (Sheedy 1984)
REFERENCE_AREA_MM2 = 4.0 * math.pi
SIZES: Sizes = tuple(round(-0.5 + 0.1 * step, 1) for step in range(29))  # to 2.3 logMAR
GUESS = 1.0 / len(SLOAN)
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
        """The size at which half the letters are read, corrected for guessing."""
        guess = 1.0 / len(self.alphabet)
        z = probit((self.right.mean(axis=1) - guess) / (1.0 - guess))
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
    weighted = centred(seen, table) * table.neural_squared
    flat = table.pairs_real @ weighted.real.T - table.pairs_imaginary @ weighted.imag.T
    noise = NOISE * nerve.noise * (transfer.open_mm2 / REFERENCE_AREA_MM2) ** -LIGHT_EXPONENT
    match = flat.T.reshape(-1, len(alphabet), len(alphabet)) * (table.scale / noise)
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
    pairs_real: FloatArray  # (letters squared, points), letter i times the conjugate of letter j
    pairs_imaginary: FloatArray
    fit: FloatArray  # (sizes, points), the mean letter's contrast as seen
    scale: FloatArray  # (sizes, 1, letters)
    similar: FloatArray  # (sizes, letters, letters), correlation of the memories


@lru_cache(maxsize=12)
def _letter_table(sizes_logmar: Sizes, loss: float, alphabet: str) -> _LetterTable:
    letters = ring_spectra() if alphabet == RINGS else sloan_spectra()
    count = len(alphabet)
    distinct = letters.distinct
    heights = np.array([letter_height_deg(size) for size in sizes_logmar])
    radius = np.hypot(letters.ux, letters.uy)
    neural_squared = neural_transfer(radius / heights[:, np.newaxis], loss) ** 2
    fit = neural_squared * (np.abs(distinct) ** 2).mean(axis=0) * letters.count
    pairs = (distinct[:, np.newaxis] * distinct.conj()[np.newaxis]).reshape(count**2, -1)
    pairs = pairs * letters.count
    gram = (neural_squared @ pairs.real.T).reshape(-1, count, count)
    norms = np.sqrt(np.maximum(np.einsum("sii->si", gram), 1e-12))
    return _LetterTable(
        neural_squared=neural_squared.astype("f4"),
        pairs_real=pairs.real.copy(),
        pairs_imaginary=pairs.imag.copy(),
        fit=np.where(fit > 1e-9 * fit.max(), fit, 0.0).astype("f4"),  # no less than single holds
        scale=(heights[:, np.newaxis] * STEP_CYCLES / norms)[:, np.newaxis, :],
        similar=gram / (norms[:, :, np.newaxis] * norms[:, np.newaxis, :]),
    )


PLACES = 32


def centred(seen: ComplexArray, table: _LetterTable) -> ComplexArray:
    """Return transfers (sizes, points) with the image laid where the mean letter fits best.

    Defocus, spherical aberration and coma move that place, differently at each size.
    """
    letters = sloan_spectra()
    across, upward = letters.steps
    spectrum = np.zeros((len(seen), PLACES, PLACES // 2 + 1), np.complex64)
    fit = seen * table.fit
    spectrum[:, across, upward] = fit
    level = upward == 0  # here alone both halves are asked for
    spectrum[:, -across[level], 0] += fit[:, level].conj()
    places = np.fft.irfft2(spectrum)
    best = places.reshape(len(places), -1).argmax(axis=1)
    right, up = np.divmod(best, PLACES)
    step = np.array([-1, 0, 1])[:, np.newaxis, np.newaxis]
    beside_y, beside_x = step * [[1], [0]], step * [[0], [1]]  # (3, upward or across, 1)
    rows = np.arange(len(places))
    near = places[rows, (right + beside_x) % PLACES, (up + beside_y) % PLACES]
    moved = _peak(near, np.stack([up, right]))
    steps = np.arange(-across.max(), across.max() + 1)
    turn = np.exp(2j * math.pi * STEP_CYCLES * np.multiply.outer(moved, steps))
    turn_y, turn_x = turn.astype(np.complex64)
    laid: ComplexArray = seen * turn_x[:, across - steps[0]]
    laid *= turn_y[:, upward - steps[0]]
    return laid


def _peak(three: FloatArray, index: np.ndarray) -> FloatArray:
    """Return the top of a parabola through three places, in letter heights about the centre."""
    before, at, after = three
    bend = before - 2.0 * at + after
    shift = 0.5 * (before - after) / np.where(np.abs(bend) > 1e-12, bend, np.inf)
    place = index + np.clip(shift, -0.5, 0.5)
    centred_place = np.where(place > PLACES / 2, place - PLACES, place)
    moved: FloatArray = centred_place / (PLACES * STEP_CYCLES)
    return moved


def _chances(match: FloatArray, similar: FloatArray) -> FloatArray:
    """Return P (sizes, letters) that letter i beats the others, noise correlated as memories."""
    own = np.einsum("sii->si", match)[:, :, np.newaxis]
    spread = np.sqrt(np.maximum(1.0 - similar, 1e-9))
    ahead = (own - match) / spread
    np.einsum("sii->si", ahead)[...] = 99.0  # no letter has to beat itself
    beats = normal_cdf(ahead + NODES[:, np.newaxis, np.newaxis, np.newaxis]).prod(axis=3)
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
