"""Pictures to bytes: 8-bit PNG, quick level, and nothing in it but the pixels."""

import io

import numpy as np
from PIL import Image


def png_bytes(picture: np.ndarray) -> bytes:
    """Return a PNG of an 8-bit picture, grey (height, width) or colour (height, width, 3)."""
    out = io.BytesIO()
    Image.fromarray(picture).save(out, format="PNG", compress_level=1)
    return out.getvalue()
