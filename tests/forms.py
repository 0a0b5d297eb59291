"""The forms of the transfer function one by one, each at a stated fineness."""

import math
from dataclasses import replace

from optics.eye.chromatic import Spectrum
from optics.eye.grid import Field, TransferFunction
from optics.eye.rays import rays_of
from optics.eye.transfer import (
    Accuracy,
    colour_of,
    field_for,
    overlap_form,
    sampled_form,
    shadow_form,
    shadow_samples,
)
from optics.eye.wavefront import Wavefront


def field_of(wave: Wavefront, light: Spectrum, times: float = 1.0) -> tuple[Field, float]:
    """Return the field of every day made so many times wider, and the limit in c/deg."""
    colour = colour_of(light)
    rays = rays_of(wave, colour.mean_d) or rays_of(replace(wave, stops=()), colour.mean_d)
    field, limit_cpd = field_for(rays, colour, Accuracy.FINE)
    size = 2 * math.ceil((times * field.size - 1.0) / 2.0) + 1
    return replace(field, size=size, step_cpd=field.step_cpd / times), limit_cpd


def sampled(wave: Wavefront, light: Spectrum, times: float = 1.0) -> TransferFunction | None:
    """Return the form that samples the pupil, so many times as finely as every day."""
    return sampled_form(wave, light, *field_of(wave, light, times))


def shadow(wave: Wavefront, light: Spectrum, times: float = 1.0) -> TransferFunction | None:
    """Return the form by the pupil's shadow."""
    colour = colour_of(light)
    rays = rays_of(wave, colour.mean_d)
    field, limit_cpd = field_of(wave, light, times)
    spread = shadow_samples(rays, colour, field, Accuracy.FINE)
    assert spread
    return shadow_form(wave, light, field, limit_cpd, rays.mean_d, spread)


def overlap(
    wave: Wavefront, light: Spectrum, step_cpd: float, reach: int
) -> TransferFunction | None:
    """Return the overlap integral at multiples of a step."""
    field, _ = field_of(wave, light)
    near = replace(field, step_cpd=step_cpd)
    return overlap_form(wave, light, near, reach * step_cpd)
