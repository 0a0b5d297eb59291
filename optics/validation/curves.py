"""Curves of the sample for plots: mean acuity and its range between eyes, with published points."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from optics.units import FloatArray
from optics.validation import acuities, sources
from optics.validation.acuities import BOTH_RULES, CYLINDER_PUPIL_MM, hoshikawa_logmar
from optics.validation.pupils import BLURRED_MM, IN_FOCUS_MM
from optics.validation.sample import STUDY_PUPIL_MM, Sample, mixed, sphere

DEFOCUS_D = (0.0, *(defocus_d for defocus_d, *_ in acuities.SPHERES))
CYLINDER_D = (0.0, *(cylinder_d for cylinder_d, *_ in acuities.CYLINDERS))
HOLES_MM = (0.5, 0.75, 1.0, 1.2, 1.5, 2.0, 3.0, 4.0)
NATURAL_MM = (0.75, *IN_FOCUS_MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Mean acuity at places along an axis, and one standard deviation between eyes."""

    name: str
    at: tuple[float, ...]
    mean_logmar: tuple[float, ...]
    spread_logmar: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A published acuity and the range that its source allows; a limit has no middle."""

    at: float
    least_logmar: float
    most_logmar: float
    source: str
    limit: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Best:
    """A published range in which sight is best; ``curve`` is the name of ours that it is about."""

    least: float
    most: float
    curve: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """One plot: its curves, a published curve if there is one, and published points."""

    key: str
    curves: tuple[Curve, ...]
    published_name: str = ""
    published: tuple[tuple[float, float], ...] = ()
    points: tuple[Point, ...] = ()
    points_name: str = "published, with tolerance"
    best: tuple[Best, ...] = ()


def all_plots(sample: Sample) -> tuple[Plot, ...]:
    """Return the plots of the page, in order."""
    return (_defocus(sample), _pupils(sample), _holes(sample), _cylinder(sample))


def _curve(name: str, at: Sequence[float], acuities_at: Callable[[float], FloatArray]) -> Curve:
    read = [acuities_at(one) for one in at]
    return Curve(
        name=name,
        at=tuple(at),
        mean_logmar=tuple(round(float(np.mean(one)), 4) for one in read),
        spread_logmar=tuple(round(float(np.std(one, ddof=1)), 4) for one in read),
    )


def _sphere_curve(
    sample: Sample, name: str, at: Sequence[float], key: Callable[[float], tuple[float, float]]
) -> Curve:
    """Return a curve whose ``key`` turns a place into defocus and pupil."""

    def read(place: float) -> FloatArray:
        defocus_d, pupil_mm = key(place)
        return sample.readings(sphere(defocus_d), pupil_mm).acuity_logmar

    return _curve(name, at, read)


def _point(at: float, logmar: float, tolerance: float, source: str) -> Point:
    return Point(
        at=at, least_logmar=logmar - tolerance, most_logmar=logmar + tolerance, source=source
    )


def _defocus(sample: Sample) -> Plot:
    return Plot(
        key="defocus",
        curves=(_sphere_curve(sample, "4 mm pupil", DEFOCUS_D, lambda d: (d, STUDY_PUPIL_MM)),),
        points=(
            _point(0.0, acuities.FOCUS_LOGMAR, 0.02, sources.YOUNG_EYES.name),
            *(
                _point(defocus_d, logmar, tolerance, source.name)
                for defocus_d, logmar, tolerance, source, _ in acuities.SPHERES
            ),
        ),
    )


def _pupils(sample: Sample) -> Plot:
    return Plot(
        key="pupil",
        curves=(
            _sphere_curve(sample, "in focus", NATURAL_MM, lambda mm: (0.0, mm)),
            _sphere_curve(sample, "2.00 D of sphere", BLURRED_MM, lambda mm: (2.0, mm)),
        ),
        points=(
            _point(4.0, acuities.FOCUS_LOGMAR, 0.02, sources.YOUNG_EYES.name),
            _point(4.0, 0.71, 0.10, sources.SPHERE_MODELS.name),
        ),
        best=(
            Best(least=2.0, most=3.0, curve="in focus", source=sources.ATCHISON_PUPIL.name),
            Best(least=0.5, most=1.2, curve="2.00 D of sphere", source=sources.XU.name),
        ),
    )


def _through(defocus_d: float, hole_mm: float) -> tuple[float, float]:
    return defocus_d, hole_mm


def _holes(sample: Sample) -> Plot:
    curves = (
        _sphere_curve(sample, f"{d:.0f} D of sphere", HOLES_MM, partial(_through, d))
        for d in (1.0, 3.0, 6.0)
    )
    return Plot(
        key="pinhole",
        curves=tuple(curves),
        points=(
            *(
                Point(
                    at=hole_mm,
                    least_logmar=acuities.FOCUS_LOGMAR,
                    most_logmar=most,
                    source=sources.PINHOLE.name,
                    limit=True,
                )
                for hole_mm, most in ((1.0, 0.28), (1.2, 0.40))
            ),
            _point(4.0, 0.95, 0.10, sources.SPHERE_MODELS.name),
        ),
        points_name="published for 3 D: at the bar's end or better; with tolerance",
    )


def _cylinder(sample: Sample) -> Plot:
    def read(cylinder_d: float) -> FloatArray:
        both = [
            sample.readings(mixed(cylinder_d, axis), CYLINDER_PUPIL_MM).acuity_logmar
            for axis in BOTH_RULES
        ]
        mean: FloatArray = np.mean(both, axis=0)
        return mean

    return Plot(
        key="cylinder",
        curves=(_curve("3.4 mm pupil", CYLINDER_D, read),),
        published_name=sources.HOSHIKAWA.name,
        published=tuple(
            (round(c, 3), round(hoshikawa_logmar(c), 4)) for c in np.linspace(0.0, 3.0, 25).tolist()
        ),
        points=tuple(
            _point(cylinder_d, logmar, tolerance, sources.HOSHIKAWA.name)
            for cylinder_d, logmar, tolerance, _ in acuities.CYLINDERS
        ),
    )
