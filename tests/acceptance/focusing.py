"""Rows on accommodation: does it jump, what does too much minus cost, how long is a search."""

import time
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from optics.eye.accommodation import objective_amplitude_d
from tests.acceptance.check import Check, largest, median, percentile
from tests.acceptance.eyes import SHARP, Tested, astigmatism, sphere

AMPLITUDE_D, YOUNG_Y = 8.0, 20.0
LENS_STEP_D, STEPS = 0.02, 75


def largest_jump_d(tested: Tested) -> float:
    """Return the largest change of focus as a sphere moves by steps of 0.02 D through 1.5 D.

    Every second eye is astigmatic by 1 to 3 D, obliquely; the 1.5 D lie anywhere in 4 D.
    """
    rng = tested.rng(400)
    start_d, cylinder_d, axis_deg = (
        rng.uniform(-2.0, 0.5),
        rng.uniform(1.0, 3.0),
        rng.uniform(0, 180),
    )
    bent = astigmatism(cylinder_d, axis_deg) if tested.number % 2 else (0.0, 0.0)
    focus = [
        tested.view(
            (0.0, *bent), sphere(start_d + LENS_STEP_D * step), amplitude_d=AMPLITUDE_D
        ).accommodation_d
        for step in range(STEPS)
    ]
    return float(np.abs(np.diff(focus)).max())


def accommodation(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield the rows of the focus taken up."""
    yield Check(
        name="focus: largest jump for a lens step of 0.02 D",
        values=np.array([largest_jump_d(one) for one in eyes]),
        statistic=largest,
        most=0.05,
        unit=" D",
    )
    lost, took_ms = [], []
    for one in eyes:
        young = replace(one, eyes=replace(one.eyes, age_y=YOUNG_Y))
        amplitude_d = objective_amplitude_d(YOUNG_Y)
        began = time.perf_counter()
        minus = young.view(SHARP, sphere(-2.0), amplitude_d=amplitude_d)
        took_ms.append(1000.0 * (time.perf_counter() - began))
        plain = young.view(SHARP, amplitude_d=amplitude_d)
        assert minus.right.reading is not None
        assert plain.right.reading is not None
        lost.append(minus.right.reading.acuity_logmar - plain.right.reading.acuity_logmar)
    yield Check(
        name="2 D too much minus at 20 years: acuity lost, median",
        values=np.array(lost),
        statistic=median,
        most=0.04,
        unit=" logMAR",
    )
    yield Check(
        name="the same, 95 %", values=np.array(lost), statistic=percentile(95.0), unit=" logMAR"
    )
    yield Check(
        name="a focus search from nothing, median",
        values=np.array(took_ms),
        statistic=median,
        unit=" ms",
    )
