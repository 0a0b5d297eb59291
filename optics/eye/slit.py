"""A slit's straight edges on a square lattice, along which half-covered samples add up.

Such a sample, covered by the share a, has the mean amplitude a, but its energy is a too, not a^2.
The lattice is moved so that one edge lies between samples; at the other the energy that lacks is
laid as a second image, of the amplitude sqrt(a - a^2). At both edges the second image would
overlap itself where the frequency is as high as the slit is wide. Oblique edges cut samples by
all shares in turn: there one image does.
"""

import math
from dataclasses import replace

import numpy as np

from optics.eye.wavefront import Wavefront, ramp
from optics.light.beam import Stop
from optics.units import FloatArray

Line = tuple[float, float, float]  # a distance in the disc's plane: x mm, y mm, constant; chart
LEVEL = 0.1  # the slope of an edge along the samples


def along_samples(wavefront: Wavefront) -> bool:
    """Return whether there is a slit and its edges lie along the samples, in x or in y."""
    lines = [_across(stop) for stop in wavefront.slits]
    slopes = [min(abs(x), abs(y)) / max(abs(x), abs(y)) for x, y, _ in lines]
    return bool(slopes) and max(slopes) <= LEVEL


def lattice_middle_mm(wavefront: Wavefront, step_mm: float) -> tuple[float, float]:
    """Return the middle of the light, moved by up to half a step to a slit's first edge."""
    middle = [*wavefront.centre_mm()]
    for stop in wavefront.slits:
        line = _across(stop)
        axis = int(abs(line[1]) > abs(line[0]))
        across_mm = line[0] * middle[0] + line[1] * middle[1] + line[2]
        steps = (-stop.half_width_mm - across_mm) / line[axis] / step_mm - 0.5
        middle[axis] += (steps - round(steps)) * step_mm
    return middle[0], middle[1]


def reach_mm(wavefront: Wavefront, middle_mm: tuple[float, float]) -> tuple[float, float]:
    """Return how far the light reaches from the lattice's middle, in x and in y."""
    radius_mm = wavefront.radius_mm()
    reach = [radius_mm, radius_mm]
    for stop in wavefront.slits:
        line = _across(stop)
        away_mm = abs(line[0] * middle_mm[0] + line[1] * middle_mm[1] + line[2])
        for axis in (0, 1):
            strip_mm = stop.half_width_mm + away_mm + abs(line[1 - axis]) * radius_mm
            reach[axis] = min(reach[axis], strip_mm / max(abs(line[axis]), 1e-9))
    return reach[0], reach[1]


def without_slits(wavefront: Wavefront) -> Wavefront:
    """Return the wavefront behind its round holes alone."""
    return replace(wavefront, stops=tuple(stop for stop in wavefront.stops if stop.round))


def through_slits(
    wavefront: Wavefront, x_mm: FloatArray, y_mm: FloatArray, step_mm: float
) -> tuple[FloatArray, FloatArray]:
    """Return the amplitude that samples keep behind slits, and that of the second image."""
    amplitude: FloatArray = np.ones(np.broadcast(x_mm, y_mm).shape, np.float32)
    energy = amplitude
    for stop in wavefront.slits:
        line = _across(stop)
        soft_mm = step_mm * max(abs(line[0]), abs(line[1]))
        across = _at(line, x_mm, y_mm)
        first = ramp(stop.half_width_mm + across, soft_mm)
        first = first * ramp(stop.half_length_mm - np.abs(_at(_along(stop), x_mm, y_mm)), soft_mm)
        other = ramp(stop.half_width_mm - across, soft_mm)
        amplitude = amplitude * first * other
        energy = energy * first**2 * other
    return amplitude, np.sqrt(np.maximum(energy - amplitude**2, 0.0))


def _at(line: Line, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    distance: FloatArray = line[0] * x_mm + line[1] * y_mm + line[2]
    return distance


def _across(stop: Stop) -> Line:
    """Return the line across a slit, upwards, so that eyes that mirror each other still do."""
    x, y, constant = _along(stop, turned_deg=90.0)
    return (-x, -y, -constant) if y < 0.0 else (x, y, constant)


def _along(stop: Stop, turned_deg: float = 0.0) -> Line:
    angle = math.radians(stop.direction_deg + turned_deg)
    (a, b, c, d), (right_mm, up_mm) = stop.from_pupil, stop.centre_mm
    cos, sin = math.cos(angle), math.sin(angle)
    return (
        -(a * cos + c * sin),  # the chart's x is the examiner's turned round
        b * cos + d * sin,
        -right_mm * cos - up_mm * sin,
    )
