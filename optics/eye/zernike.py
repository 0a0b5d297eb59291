"""Zernike terms as polynomials in pupil coordinates, and the part of them that is refraction.

Order, normalisation and sign follow ANSI Z80.28 / ISO 24157: coefficients in micrometres
rms over the stated radius, angles counter-clockwise from the examiner's right. A polynomial
is an array c[i, j] of the coefficients of x^i y^j, x and y in mm, its value in micrometres.
"""

import math
from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from optics.errors import EyeError
from optics.units import FloatArray

HIGHEST_ORDER = 6
SIZE = HIGHEST_ORDER + 1
NEED_RADIUS_MM = 2.0  # a case's need is the Zernike focus through a 4 mm pupil


def zernike_path(coefficients_um: Mapping[tuple[int, int], float], radius_mm: float) -> FloatArray:
    """Return the wavefront of Zernike terms (n, m) over a radius, shape (7, 7).

    Raises
    ------
    EyeError
        If a term does not exist or lies beyond order 6.
    """
    path = np.zeros((SIZE, SIZE))
    for (n, m), coefficient_um in coefficients_um.items():
        path = path + coefficient_um * unit_polynomial(n, m)
    orders = np.add.outer(np.arange(SIZE), np.arange(SIZE))
    scaled: FloatArray = path / radius_mm**orders
    return scaled


@lru_cache(maxsize=64)
def unit_polynomial(n: int, m: int) -> FloatArray:
    """Return Z(n, m) as a polynomial on the unit disc, shape (7, 7), read-only."""
    if not (0 <= n <= HIGHEST_ORDER and abs(m) <= n and (n - m) % 2 == 0):
        raise EyeError(f"there is no Zernike term ({n}, {m}) up to order {HIGHEST_ORDER}")
    angular = _angular(abs(m), sine=m < 0)
    total = np.zeros((SIZE, SIZE))
    for k in range((n - abs(m)) // 2 + 1):
        size = (
            (-1) ** k
            * math.factorial(n - k)
            / math.factorial(k)
            / math.factorial((n + abs(m)) // 2 - k)
            / math.factorial((n - abs(m)) // 2 - k)
        )
        radial = angular
        for _ in range((n - abs(m)) // 2 - k):
            radial = _times_r_squared(radial)
        total = total + size * radial
    norm = math.sqrt((n + 1) * (1 if m == 0 else 2))
    result: FloatArray = norm * total
    result.setflags(write=False)
    return result


def _angular(m: int, *, sine: bool) -> FloatArray:
    """Return r^m cos(m t), or r^m sin(m t), from the powers of x + iy."""
    out = np.zeros((SIZE, SIZE))
    for k in range(int(sine), m + 1, 2):
        out[m - k, k] = math.comb(m, k) * (-1) ** (k // 2)
    return out


def _times_r_squared(polynomial: FloatArray) -> FloatArray:
    out = np.zeros_like(polynomial)
    out[2:, :] += polynomial[:-2, :]
    out[:, 2:] += polynomial[:, :-2]
    return out


def refractive_part(path: FloatArray, radius_mm: float = NEED_RADIUS_MM) -> tuple[float, ...]:
    """Return (M, J0, J45) in D of the second-order Zernike content over a radius.

    M = -4 sqrt(3) c20 / r^2, J0 = -2 sqrt(6) c22 / r^2, J45 = -2 sqrt(6) c2-2 / r^2 (Thibos,
    Hong, Bradley & Applegate, J Vision 2004;4:329-351), as a correcting lens; the content is
    the projection on the terms, exact for polynomials.
    """
    c20, c22, c2m2 = (_projection(path, n, m, radius_mm) for n, m in ((2, 0), (2, 2), (2, -2)))
    r2 = radius_mm**2
    return (
        -4.0 * math.sqrt(3.0) * c20 / r2,
        -2.0 * math.sqrt(6.0) * c22 / r2,
        -2.0 * math.sqrt(6.0) * c2m2 / r2,
    )


def _projection(path: FloatArray, n: int, m: int, radius_mm: float) -> float:
    """Return the mean of path times Z(n, m) over the disc, from the disc's moments."""
    orders = np.add.outer(np.arange(SIZE), np.arange(SIZE))
    on_unit_disc = path * radius_mm**orders
    total = 0.0
    for (i, j), size in np.ndenumerate(unit_polynomial(n, m)):
        if size:
            total += float(size) * float(
                np.sum(on_unit_disc * _moments()[i : i + SIZE, j : j + SIZE])
            )
    return total


@lru_cache(maxsize=1)
def _moments() -> FloatArray:
    """Return the mean of x^i y^j over the unit disc, i and j to 13."""
    table = np.zeros((2 * SIZE, 2 * SIZE))
    for i in range(0, 2 * SIZE, 2):
        for j in range(0, 2 * SIZE, 2):
            a, b = (i + 1) / 2, (j + 1) / 2
            beta = math.gamma(a) * math.gamma(b) / math.gamma(a + b)
            table[i, j] = beta * 2.0 / (i + j + 2) / math.pi
    return table


def evaluate(path: FloatArray, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Return the polynomial's values, the shape of x and y, in micrometres."""
    values: FloatArray = np.polynomial.polynomial.polyval2d(x_mm, y_mm, path)
    return values


def evaluate_on_grid(path: FloatArray, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Return the values on a grid, shape (..., len(y), len(x)), in the precision of the axes."""
    powers_x, powers_y = (np.vander(axis, SIZE, increasing=True) for axis in (x_mm, y_mm))
    turned = np.swapaxes(path, -1, -2).astype(powers_x.dtype)
    values: FloatArray = powers_y @ turned @ powers_x.T
    return values.astype(x_mm.dtype, copy=False)


def derivative(path: FloatArray, in_x: int, in_y: int) -> FloatArray:
    """Return a partial derivative of a polynomial, shape (7, 7)."""
    out = np.zeros_like(path)
    out[: SIZE - in_x, : SIZE - in_y] = path[in_x:, in_y:] * _factors(in_x, in_y)
    return out


@lru_cache(maxsize=SIZE**2)
def _factors(in_x: int, in_y: int) -> FloatArray:
    """Return what the powers left by a partial derivative are multiplied by."""
    across, upward = ([math.perm(n, k) for n in range(k, SIZE)] for k in (in_x, in_y))
    return np.outer(across, upward).astype(float)


def mirrored(path: FloatArray) -> FloatArray:
    """Return a wavefront turned left for right: x becomes -x, shape (7, 7)."""
    signs = (-1.0) ** np.arange(SIZE)
    turned: FloatArray = path * signs[:, np.newaxis]
    return turned
