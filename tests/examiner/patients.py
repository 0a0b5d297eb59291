"""Drawn patients, the application that serves them, and the truth that they are marked by."""

import hashlib
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np

from optics.eye.population import higher_order_rms_um, individual_aberrations
from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder, power_vector
from server.casebook import Case, Casebook, read_casebook
from server.marking.truth import find_truth
from tests.examiner.pages import Lens
from tests.student import case_text, opened

ORDINARY_RMS_UM = 0.35
J0_SD_D, J45_SD_D = 0.35, 0.25


@dataclass(frozen=True)
class Drawn:
    """A drawn patient: the case file, and what the table groups by."""

    name: str
    text: str
    age_y: int
    mean_d: float
    rms_um: float


def uniform(words: str) -> float:
    """Return a number within 0 and 1 that depends on the words alone."""
    return (int.from_bytes(hashlib.sha256(words.encode()).digest()[:6]) + 0.5) / 2.0**48


def drawn_patient(
    seed: int,
    number: int,
    mean_d: tuple[float, float] = (-6.0, 6.0),
    ages_y: tuple[int, int] = (20, 70),
    best_logmar: float | None = None,
    **eyes: float,
) -> Drawn:
    """Return patient ``number`` of a seed; their need's mean sphere lies evenly in a range."""
    own = f"examiner {seed}/{number}/"
    age_y = round(ages_y[0] + (ages_y[1] - ages_y[0]) * uniform(own + "age"))
    m = mean_d[0] + (mean_d[1] - mean_d[0]) * uniform(own + "m")
    j0, j45 = (
        sd * NormalDist().inv_cdf(uniform(own + name))
        for name, sd in (("j0", J0_SD_D), ("j45", J45_SD_D))
    )
    person, rms_um = ordinary_person(own, age_y)
    text = case_text(right=need_text(m, j0, j45), left="plano", age=age_y)
    if best_logmar is not None:
        text = text.replace("pd_mm = 31.0", f"pd_mm = 31.0\nbest_logmar = {best_logmar}")
    more = "".join(f"{key} = {value}\n" for key, value in eyes.items())
    text = text.replace("pupil_mm = 4.0\n", f"individual = {person}\n{more}")
    return Drawn(f"eye{seed}n{number}", text, age_y, m, rms_um)


def ordinary_person(own: str, age_y: float) -> tuple[int, float]:
    """Return the first number of a stream whose right eye is ordinary, and its RMS in um."""
    for attempt in range(1000):
        person = 1 + int(9999 * uniform(f"{own}person {attempt}"))
        rms_um = higher_order_rms_um(individual_aberrations(person, EyeSide.RIGHT, age_y))
        if rms_um <= ORDINARY_RMS_UM:
            return person, rms_um
    raise AssertionError("no ordinary eye among a thousand")


def need_text(m: float, j0: float, j45: float) -> str:
    """Return a power vector as a prescription with a minus cylinder."""
    size = 2.0 * math.hypot(j0, j45)
    axis = round(math.degrees(0.5 * math.atan2(j45, j0))) % 180 or 180
    return f"{m + size / 2:+.2f}/{-size:+.2f}x{axis}"


@contextmanager
def practice(folder: Path, **cases: str) -> Iterator[tuple[Any, Casebook]]:
    """Open the application on case files of these names and texts; yield a browser and them."""
    with opened(folder, **cases) as browser:
        book = read_casebook(folder / "cases")
        assert not book.faults, book.faults
        yield browser, book


def marked_lens(case: Case) -> SpheroCylinder:
    """Return the end point of a case's right eye, as a lens at 12 mm."""
    return find_truth(case, EyeSide.RIGHT).lens()


def error_vector(lens: Lens, truth: SpheroCylinder) -> tuple[float, float, float]:
    """Return answer minus truth as (M, J0, J45), in D."""
    written = SpheroCylinder(
        sphere_d=lens.sphere_d, cylinder_d=lens.cylinder_d, axis_deg=float(lens.axis_deg)
    )
    m, j0, j45 = (float(one) for one in power_vector(written) - power_vector(truth))
    return m, j0, j45


def length_d(vector: tuple[float, float, float]) -> float:
    """Return the dioptric distance: the length of a power vector."""
    return float(np.linalg.norm(vector))
