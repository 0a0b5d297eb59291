"""Why the patient answered so: the optics of the moment in words and numbers.

For the review and, on ask, for teaching mode; never sent before the end elsewhere.
"""

from collections.abc import Mapping, Sequence

from optics.light.frame import SIDE_NAMES
from optics.light.notation import power_text
from optics.light.power import blur_strength_d
from optics.patient.compare import Answer
from optics.patient.questions import Question
from optics.patient.replies import RowReply
from optics.sight.view import EyeView, View
from server.attempts.questions import Moment
from server.attempts.words import acuity_mark

LEAST_EFFORT_D = 0.05


def why_of_reading(view: View, replies: Sequence[RowReply]) -> str:
    """Return what limited a reading: blur left, accommodation, pupil, where letters stopped."""
    eye = view.better
    if eye is None:
        return "No light reaches either eye."
    blur = blur_strength_d(eye.defocus)
    parts = [
        f"The {SIDE_NAMES[eye.side]} eye read, with {blur:.2f} D of blur left ({_blur_words(eye)})."
    ]
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


TOLD = ((0.6, "nobody could tell them apart"), (1.5, "hard to tell"), (3.0, "to be told"))


def why_of_answer(moment: Moment, question: Question, answer: Answer) -> str:
    """Return what the optics were when a question was answered, in words and numbers."""
    facts = answer.facts
    if question is Question.WHICH:
        first, second = _blur_of(moment.face(1)), _blur_of(moment.face(2))
        return f"The first left {first} of blur, the second {second}: {_told(facts['ahead'])}."
    if question in (Question.BETTER, Question.SMALLER, Question.MORE):
        return _why_of_change(moment, facts)
    words = [f"{_blur_of(moment.now)} of blur was left."]
    if "contrast" in facts:
        words.append(f"Blackest against palest line: {_told(facts['contrast'])}.")
    if "second_image" in facts:
        words.append(f"A point has a second image of {facts['second_image']:.0%} of the first.")
    if "ahead" in facts:
        words.append(f"The difference: {_told(facts['ahead'])}.")
    return " ".join(words)


def _why_of_change(moment: Moment, facts: Mapping[str, float]) -> str:
    words = [f"Blur went from {_blur_of(moment.before)} to {_blur_of(moment.now)}."]
    if "ahead" in facts:
        words.append(f"As to clearness: {_told(facts['ahead'])}.")
    if "letters" in facts:
        words.append(f"By the optics {facts['letters']:+.1f} letters of the chart.")
    effort_d = moment.now.accommodation_d - moment.before.accommodation_d
    if abs(effort_d) >= LEAST_EFFORT_D:
        words.append(f"The eye accommodated {abs(effort_d):.2f} D {_more(effort_d)}.")
    return " ".join(words)


def _more(effort_d: float) -> str:
    return "more" if effort_d > 0.0 else "less"


def _told(ahead_sd: float) -> str:
    size = abs(ahead_sd)
    plain = next((words for least, words in TOLD if size < least), "plain to see")
    return f"{plain} ({size:.1f} times what makes this person unsure)"


def _blur_of(view: View) -> str:
    eye = view.better
    if eye is None:
        return "darkness instead"
    return f"{blur_strength_d(eye.defocus):.2f} D"


def _blur_words(eye: EyeView) -> str:
    m, j0, j45 = eye.defocus
    sphere = "in front of the retina" if m > 0 else "behind the retina"
    cylinder = 2.0 * (j0 * j0 + j45 * j45) ** 0.5
    if cylinder < 0.1:
        return f"the image lies {sphere}" if abs(m) >= 0.1 else "nearly in focus"
    return f"mean focus {power_text(-m)} D away, astigmatism {cylinder:.2f} D"


def _stop_words(eye: EyeView) -> str:
    return ", seen through a small opening" if eye.wavefront.stops else ""
