"""Colour on a display: the CIE 1931 observer, and any light split into red, green and blue.

The light that a wall is lit with is equal-energy white; eye and display are taken as adapted,
so that white paper shows as the display's white.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optics.eye.chromatic import (
    V_LAMBDA,
    Filters,
    Spectrum,
    passed_light,
    quadrature,
)
from optics.units import FloatArray

# CIE 1931 colour-matching functions of the 2 degree observer, 400 to 700 nm by 10 (CIE
# 018:2019); y is V(lambda)
X_BAR = np.array(
    [
        *(0.01431, 0.04351, 0.13438, 0.2839, 0.34828, 0.3362, 0.2908, 0.19536, 0.09564, 0.03201),
        *(0.0049, 0.0093, 0.06327, 0.1655, 0.2904, 0.43345, 0.5945, 0.7621, 0.9163, 1.0263),
        *(
            1.0622,
            1.0026,
            0.85445,
            0.6424,
            0.4479,
            0.2835,
            0.1649,
            0.0874,
            0.04677,
            0.0227,
            0.01136,
        ),
    ]
)
Z_BAR = np.array(
    [
        *(0.06785, 0.2074, 0.6456, 1.3856, 1.74706, 1.77211, 1.6692, 1.28764, 0.81295, 0.46518),
        *(0.272, 0.1582, 0.07825, 0.04216, 0.0203, 0.00875, 0.0039, 0.0021, 0.00165, 0.0011),
        *(0.0008, 0.00034, 0.00019, 0.00005, 0.00002, 0, 0, 0, 0, 0, 0),
    ]
)
MATCHING = np.stack([X_BAR, V_LAMBDA, Z_BAR])

# linear sRGB from XYZ under D65 (IEC 61966-2-1), and the share of luminance of each primary
RGB_OF_XYZ = np.array(
    [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
)
LUMINANCE_OF_RGB = (0.2126, 0.7152, 0.0722)
D65_WHITE_XYZ = np.array([0.95047, 1.0, 1.08883])
# sharpened cone responses for adaptation to another white (Bradford; Lam 1985, from memory)
BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One of red, green and blue: how much white paper shows, linear, and which light it holds.

    ``level`` is 1 for white light without a filter; ``spectrum`` is None where it is 0.
    """

    level: float
    spectrum: Spectrum | None


@lru_cache(maxsize=1)
def rgb_matching() -> FloatArray:
    """Return the response of linear red, green and blue to each wavelength, (3, 31), read-only.

    Scaled so that equal-energy white gives (1, 1, 1). Parts are negative: no display shows a
    pure wavelength.
    """
    white = MATCHING.sum(axis=1) / V_LAMBDA.sum()
    adapted = np.diag((BRADFORD @ D65_WHITE_XYZ) / (BRADFORD @ white))
    of_xyz = RGB_OF_XYZ @ np.linalg.inv(BRADFORD) @ adapted @ BRADFORD
    response: FloatArray = of_xyz @ MATCHING / V_LAMBDA.sum()
    response /= response.sum(axis=1, keepdims=True)  # four-digit matrices miss 1 by 0.0003
    response.setflags(write=False)
    return response


def shown_rgb(filters: Filters) -> tuple[float, float, float]:
    """Return the linear red, green and blue that white paper shows through filters.

    What a display cannot show (a negative part) is left out and the luminance kept, so a pure
    colour comes out paler than it is; parts may exceed 1.
    """
    rgb = rgb_matching() @ passed_light(filters)
    shown = np.maximum(rgb, 0.0)
    shown *= (rgb @ LUMINANCE_OF_RGB) / (shown @ LUMINANCE_OF_RGB)
    red, green, blue = (float(part) for part in shown)
    return red, green, blue


@lru_cache(maxsize=64)
def colour_channels(filters: Filters, count: int = 3) -> tuple[Channel, Channel, Channel]:
    """Return red, green and blue of white light through filters, ``count`` wavelengths each.

    The picture of a chart in this light is three pictures, each through the transfer function
    of its own wavelengths. A channel's wavelengths follow the positive part of its response.
    """
    passed = passed_light(filters)
    red, green, blue = (
        Channel(
            level=level,
            spectrum=quadrature(np.maximum(response, 0.0) * passed, count) if level else None,
        )
        for level, response in zip(shown_rgb(filters), rgb_matching(), strict=True)
    )
    return red, green, blue
