"""Pictures to bytes: 8-bit grey PNG, quick level, and nothing in it but the pixels."""

import io

import numpy as np
from PIL import Image


def png_bytes(grey: np.ndarray) -> bytes:
    """Return a PNG of an 8-bit grey picture (height, width), no metadata."""
    out = io.BytesIO()
    Image.fromarray(grey).save(out, format="PNG", compress_level=1)
    return out.getvalue()
