"""Why the patient answered so: the optics of the moment in words and numbers.

For the review and, on ask, for teaching mode; never sent before the end elsewhere.
"""

from collections.abc import Sequence

from optics.light.notation import power_text
from optics.patient.replies import RowReply
from optics.sight.view import EyeView, View


def why_of_reading(view: View, replies: Sequence[RowReply]) -> str:
    """Return what limited a reading: blur left, accommodation, pupil, where letters stopped."""
    eye = view.better
    if eye is None:
        return "No light reaches either eye."
    m, j0, j45 = eye.defocus
    blur = (m * m + j0 * j0 + j45 * j45) ** 0.5
    name = "right" if eye.side.value == "R" else "left"
    parts = [f"The {name} eye read, with {blur:.2f} D of blur left ({_blur_words(eye)})."]
    if view.accommodation_d >= 0.05:
        parts.append(f"It accommodated {view.accommodation_d:.2f} D.")
    parts.append(f"Pupil {eye.pupil_mm:.1f} mm{_stop_words(eye)}.")
    if eye.beam.rod_deg is not None:
        parts.append("The rod draws every letter out into a streak.")
    if eye.reading is not None:
        parts.append(
            f"Half the letters of a {acuity_mark(eye.reading.acuity_logmar)} line can be read so."
        )
    if replies and not replies[-1].tried:
        parts.append(f"{acuity_mark(replies[-1].row.size_logmar)} was given up.")
    return " ".join(parts)


def acuity_mark(acuity_logmar: float) -> str:
    """Return an acuity as it stands in kept words, to be written in the reader's notation."""
    return f"[{acuity_logmar:.3f} logMAR]"


def _blur_words(eye: EyeView) -> str:
    m, j0, j45 = eye.defocus
    sphere = "in front of the retina" if m > 0 else "behind the retina"
    cylinder = 2.0 * (j0 * j0 + j45 * j45) ** 0.5
    if cylinder < 0.1:
        return f"the image lies {sphere}" if abs(m) >= 0.1 else "nearly in focus"
    return f"mean focus {power_text(-m)} D away, astigmatism {cylinder:.2f} D"


def _stop_words(eye: EyeView) -> str:
    return ", seen through a small opening" if eye.wavefront.stops else ""
