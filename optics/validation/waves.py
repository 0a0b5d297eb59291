"""Exact rows about waves: diffraction, defocus, lost contrast, and what weighs the pupil."""

import math
from collections.abc import Iterator
from functools import partial

import numpy as np

from optics.eye.chromatic import (
    V_LAMBDA,
    V_LAMBDA_NM,
    chromatic_defocus_d,
    chromatic_refraction_d,
    single_wavelength,
)
from optics.eye.transfer import transfer_function
from optics.eye.wavefront import Wavefront, defocus_path
from optics.eye.zernike import derivative, evaluate, zernike_path
from optics.units import ARCMIN_PER_RAD
from optics.validation import sources
from optics.validation.row import Row, about, exact
from optics.validation.sample import lit

GREEN_NM = 555.0


def rows() -> Iterator[Row]:
    """Yield the rows about waves."""
    yield from _contrasts()
    yield from _first_zeros()
    yield from _geometry()
    yield from _zernike()
    yield from _colour()
    yield from _weights()


def plain_wave(defocus_d: float, pupil_mm: float) -> Wavefront:
    """Return an aberration-free pupil with a defocus at 555 nm and no apodisation."""
    at_reference = defocus_d - chromatic_defocus_d(GREEN_NM)
    return Wavefront(
        path=defocus_path((at_reference, 0.0, 0.0)),
        pupil_mm=pupil_mm,
        stiles_crawford_per_mm2=0.0,
    )


def contrast(wave: Wavefront, frequencies_cpd: np.ndarray) -> np.ndarray:
    """Return the signed transfer (n,) of green light along the horizontal."""
    transfer = lit(transfer_function(wave, spectrum=single_wavelength(GREEN_NM)))
    values: np.ndarray = transfer.at(frequencies_cpd, np.zeros_like(frequencies_cpd)).real
    return values


def contrast_at(frequency_cpd: float, defocus_d: float, pupil_mm: float) -> float:
    """Return the signed transfer of green light at one frequency."""
    return float(contrast(plain_wave(defocus_d, pupil_mm), np.array([frequency_cpd]))[0])


def first_zero_cpd(defocus_d: float, pupil_mm: float) -> float:
    """Return the first frequency at which green light's contrast is lost."""
    frequencies = np.arange(0.5, 30.0, 0.02)
    signed = contrast(plain_wave(defocus_d, pupil_mm), frequencies)
    at = int(np.argmax(signed <= 0.0))
    return float(frequencies[at - 1] + 0.02 * signed[at - 1] / (signed[at - 1] - signed[at]))


def _contrasts() -> Iterator[Row]:
    for pupil_mm, values in ((3.0, (0.865, 0.732, 0.602)), (1.2, (0.667, 0.358, 0.108))):
        for cpd, published in zip((10.0, 20.0, 30.0), values, strict=True):
            yield exact(
                f"contrast at {cpd:g} c/deg, {pupil_mm:g} mm pupil, 555 nm",
                about(published, 0.005, 3),
                sources.GOODMAN,
                partial(contrast_at, cpd, 0.0, pupil_mm),
                catches="blur circles instead of waves: no loss in focus",
            )
    for pupil_mm, defocus_d, cpd, published in (
        (4.0, 1.0, 2.0, 0.754),
        (4.0, 1.0, 4.0, 0.287),
        (3.0, 0.25, 10.0, 0.719),
        (3.0, 0.25, 20.0, 0.397),
        (3.0, 1.0, 10.0, -0.101),
    ):
        yield exact(
            f"contrast at {cpd:g} c/deg, {pupil_mm:g} mm, {defocus_d:g} D, 555 nm",
            about(published, 0.005, 3),
            sources.HOPKINS,
            partial(contrast_at, cpd, defocus_d, pupil_mm),
            catches="phase reversal thrown away" if published < 0 else "a Gaussian for the blur",
        )


def _first_zeros() -> Iterator[Row]:
    for pupil_mm, defocus_d, published in (
        *((4.0, 1.0, 5.60), (4.0, 2.0, 2.73), (3.0, 1.0, 7.81), (3.0, 0.5, 17.9)),
        *((2.0, 1.0, 14.05), (2.0, 2.0, 5.94), (1.5, 3.0, 5.41), (1.2, 2.0, 16.5)),
        *((1.2, 3.0, 7.56), (1.2, 5.0, 4.02), (1.0, 3.0, 11.85), (1.0, 5.0, 5.20)),
    ):
        circles_cpd = 21.29 / (pupil_mm * defocus_d)
        yield exact(
            f"first contrast lost, {pupil_mm:g} mm pupil, {defocus_d:g} D",
            about(published, 0.01 * published),
            sources.HOPKINS,
            partial(first_zero_cpd, defocus_d, pupil_mm),
            catches=f"blur circles instead of waves: {circles_cpd:.2f}",
            unit="c/deg",
        )


def quarter_wave_d(pupil_mm: float) -> float:
    """Return the defocus whose wavefront is a quarter wavelength late at the pupil's edge."""
    at_edge = evaluate(defocus_path((1.0, 0.0, 0.0)), np.array([pupil_mm / 2.0]), np.zeros(1))
    return GREEN_NM * 1e-3 / 4.0 / float(at_edge[0])


def blur_disc_arcmin(defocus_d: float, pupil_mm: float) -> float:
    """Return the angle between the rays through the two edges of a pupil."""
    slope = derivative(plain_wave(defocus_d, pupil_mm).path, 1, 0)
    edges = np.array([-pupil_mm / 2.0, pupil_mm / 2.0])
    low, high = evaluate(slope, edges, np.zeros(2))
    wanted_nm = chromatic_defocus_d(GREEN_NM) * pupil_mm
    return float(high - low + wanted_nm) * 1e-3 * ARCMIN_PER_RAD


def _geometry() -> Iterator[Row]:
    for pupil_mm, published in ((1.0, 1.11), (2.0, 0.28), (4.0, 0.069)):
        yield exact(
            f"quarter wave of defocus, {pupil_mm:g} mm pupil, 555 nm",
            about(published, 0.01 * published, 3),
            sources.RAYLEIGH,
            partial(quarter_wave_d, pupil_mm),
            catches="wavefront over the diameter instead of the radius",
            unit="D",
        )
    for pupil_mm, defocus_d, published in ((4.0, 1.0, 13.75), (3.0, 1.0, 10.31), (1.2, 3.0, 12.38)):
        yield exact(
            f"blur disc, {pupil_mm:g} mm pupil, {defocus_d:g} D",
            about(published, 0.005 * published),
            sources.SMITH_DISC,
            partial(blur_disc_arcmin, defocus_d, pupil_mm),
            catches="pupil ignored, or its radius taken",
            unit="arcmin",
        )


def um_per_dioptre(n: int, m: int, pupil_mm: float) -> float:
    """Return the rms micrometres of a second-order term that one dioptre makes."""
    return 0.5 / float(zernike_path({(n, m): 1.0}, pupil_mm / 2.0)[2, 0])


def _zernike() -> Iterator[Row]:
    for pupil_mm, published in ((3.0, 0.3248), (4.0, 0.5774), (5.0, 0.9021), (6.0, 1.2990)):
        yield exact(
            f"rms of 1 D of M over {pupil_mm:g} mm",
            about(published, 0.001 * published, 4),
            sources.THIBOS_ZERNIKE,
            partial(um_per_dioptre, 2, 0, pupil_mm),
            catches="peak to valley taken for rms",
            unit="µm",
        )
    yield exact(
        "rms of 1 D of J0 over 6 mm",
        about(1.837, 0.002, 3),
        sources.THIBOS_ZERNIKE,
        partial(um_per_dioptre, 2, 2, 6.0),
        catches="cylinder taken for J (half of it)",
        unit="µm",
    )


def _colour() -> Iterator[Row]:
    for wavelength_nm, published in (
        *((400, -1.722), (450, -1.000), (486, -0.644), (500, -0.530), (535, -0.289)),
        *((555, -0.173), (570, -0.095), (589, -0.003), (620, 0.125), (656, 0.253), (700, 0.382)),
    ):
        yield exact(
            f"chromatic difference of refraction at {wavelength_nm} nm",
            about(published, 0.002, 3),
            sources.THIBOS_COLOUR,
            partial(chromatic_difference_d, float(wavelength_nm)),
            catches="chromatic zero at 580 nm",
            unit="D",
        )
    for name, first_nm, second_nm, published, tolerance in (
        ("span of 400 to 700 nm", 700.0, 400.0, 2.10, 0.005),
        ("from 656 to 486 nm", 656.0, 486.0, 0.90, 0.005),
        ("interval of the duochrome, 620 and 535 nm", 620.0, 535.0, 0.413, 0.002),
    ):
        yield exact(
            name,
            about(published, tolerance, 3),
            sources.THIBOS_COLOUR,
            partial(chromatic_interval_d, first_nm, second_nm),
            catches="no chromatic aberration, or its sign turned",
            unit="D",
        )
    yield exact(
        "integral of V(lambda)",
        about(106.86, 0.1),
        sources.CIE_V,
        luminous_width_nm,
        catches="a shortened or a rod table",
        unit="nm",
    )


def chromatic_difference_d(wavelength_nm: float) -> float:
    """Return the chromatic difference of refraction."""
    return chromatic_refraction_d(wavelength_nm)


def chromatic_interval_d(longer_nm: float, shorter_nm: float) -> float:
    """Return by how much the shorter wavelength's image is the more myopic."""
    return chromatic_defocus_d(shorter_nm) - chromatic_defocus_d(longer_nm)


def luminous_width_nm() -> float:
    """Return the integral of V(lambda) by the trapezium rule."""
    steps = np.diff(V_LAMBDA_NM)
    return float(np.sum(steps * (V_LAMBDA[1:] + V_LAMBDA[:-1]) / 2.0))


def stiles_crawford(radius_mm: float) -> float:
    """Return the light's weight at a distance from the pupil's centre."""
    wave = Wavefront(path=defocus_path((0.0, 0.0, 0.0)), pupil_mm=8.0)
    return float(wave.apodisation(np.array([radius_mm]), np.zeros(1))[0]) ** 2


def effective_share(pupil_mm: float) -> float:
    """Return the area of the pupil that counts, as a share of its geometric area."""
    wave = Wavefront(path=defocus_path((0.0, 0.0, 0.0)), pupil_mm=pupil_mm)
    transfer = lit(transfer_function(wave, spectrum=single_wavelength(GREEN_NM)))
    return transfer.open_mm2 / (math.pi * pupil_mm**2 / 4.0)


def _weights() -> Iterator[Row]:
    for radius_mm, published in ((1.0, 0.891), (2.0, 0.631), (3.0, 0.355), (4.0, 0.158)):
        yield exact(
            f"Stiles-Crawford factor {radius_mm:g} mm from the centre",
            about(published, 0.002, 3),
            sources.STILES_CRAWFORD,
            partial(stiles_crawford, radius_mm),
            catches="base e instead of base 10",
        )
    for pupil_mm, published in ((3.0, 0.881), (4.0, 0.801), (6.0, 0.623), (8.0, 0.457)):
        yield exact(
            f"effective share of a {pupil_mm:g} mm pupil's area",
            about(published, 0.002, 3),
            sources.STILES_CRAWFORD,
            partial(effective_share, pupil_mm),
            catches="base e instead of base 10; factor on the amplitude, not the light",
        )
