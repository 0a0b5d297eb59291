"""Faults with the two colours: asked where they cannot tell, or followed the wrong way."""

from collections.abc import Iterator
from itertools import pairwise

from optics.patient.questions import Question
from server.marking.faults.fault import Evidence, Kind, Scene, Weight, at_look
from server.marking.looks import LEAST_D, EyeWork, Look

ACUITY_LOGMAR = 0.2  # about 6/9

MISUSED = Kind(
    key="duochrome-misused",
    title="The two colours were asked where they cannot tell",
    weight=Weight.MINOR,
    why="Red and green lie only about 0.25 D either side of white; {size:.2f} D was left there.",
    instead="Ask them of one eye alone, in a dim room, once it reads 6/9 or better.",
)
BACKWARDS = Kind(
    key="duochrome-backwards",
    title="The answer to the two colours was followed the wrong way",
    weight=Weight.MAJOR,
    why="The step after it left the sphere {size:.2f} D off.",
    instead="Red clearer: add minus 0.25 or take plus; green clearer: add plus.",
)


def misused(scene: Scene) -> Iterator[Evidence]:
    """Yield the question asked of both eyes, in a light room, or of an acuity worse than 6/9."""
    seen: set[int] = set()
    for work in scene.work.values():
        for look in work.looks:
            words = _why_not(work, look)
            if look.question == Question.COLOUR and words and look.number not in seen:
                seen.add(look.number)
                yield at_look(look, f"{words}.", abs(look.error[0]))


def _why_not(work: EyeWork, look: Look) -> str:
    acuity = work.acuity_at(look)
    reasons = {
        "Both eyes were open": not look.alone,
        "The room was light": look.step.state.wall.lit,
        "The eye read worse than 6/9": acuity is not None and acuity > ACUITY_LOGMAR + 1e-6,
    }
    return "; ".join(words for words, holds in reasons.items() if holds)


def backwards(scene: Scene) -> Iterator[Evidence]:
    """Yield each answer after which the sphere went the other way.

    Not where the colours were later asked on the right side too: then the end was bracketed.
    """
    for work in scene.worked:
        for look, after in pairwise(work.looks):
            if _wrong_way_d(look, after) > LEAST_D and not _bracketed(work, look):
                change = after.lenses.mean_d - look.lenses.mean_d
                yield at_look(
                    after, f"After “{look.code}” came {change:+.2f} D.", abs(after.error[0])
                )
        yield from _at_the_end(work)


def _wrong_way_d(look: Look, later: Look) -> float:
    """Return how far the sphere went against the answer to the two colours, else nothing."""
    if look.question != Question.COLOUR or look.code not in ("red", "green"):
        return 0.0
    change = later.lenses.mean_d - look.lenses.mean_d
    return change if look.code == "red" else -change


def _bracketed(work: EyeWork, look: Look) -> bool:
    later = (one for one in work.looks if one.number > look.number)
    return any(
        one.question == Question.COLOUR and _wrong_way_d(look, one) < -LEAST_D for one in later
    )


def _at_the_end(work: EyeWork) -> Iterator[Evidence]:
    """Yield the answer that was the last of all, if what is recorded went the other way."""
    look = work.looks[-1] if work.looks else None
    if look is None or look.question != Question.COLOUR or work.recorded is None:
        return
    change = work.recorded.spherical_equivalent_d - look.lenses.mean_d
    if (look.code == "red" and change > LEAST_D) or (look.code == "green" and change < -LEAST_D):
        left = look.error[0] - change
        yield at_look(look, f"After “{look.code}”, {change:+.2f} D was written.", abs(left))
