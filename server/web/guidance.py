"""The first patient's six prompts, each ticked by what the log shows."""

from optics.light.frame import TrialFrame
from optics.light.lens import EyeSide, LensKind
from server.attempts.acts import open_eyes
from server.attempts.service import Attempt
from server.attempts.state import running_states
from server.web.contexts import Prompt

WORDS = (
    "Cover the left eye: choose L 4, then the occluder among the discs",
    "Ask the patient to read down",
    "Hold the pinhole before the right eye and ask again: do letters come back?",
    "Take the pinhole out and try plus first, in R 2",
    "Give minus only while it gains letters",
    "Do the same for the left eye, write both on the card, and finish",
)


def guidance(attempt: Attempt) -> tuple[Prompt, ...]:
    """Return the prompts and which of them are done."""
    done = [False] * len(WORDS)
    for event, state in running_states(attempt.events):
        if event.kind in ("ask", "place", "exchange", "step", "take", "move"):
            _tick(done, event.kind, state.frame)
    record = attempt.state.record
    done[5] = bool(record.get("right_sphere") and record.get("left_sphere"))
    return tuple(
        Prompt(words=words, done=ticked) for words, ticked in zip(WORDS, done, strict=True)
    )


def _tick(done: list[bool], kind: str, frame: TrialFrame) -> None:
    right_alone = open_eyes(frame) == {EyeSide.RIGHT}
    done[0] = done[0] or right_alone
    asked = kind == "ask" and right_alone
    kinds = {placed.lens.kind for _, placed in frame.before(EyeSide.RIGHT)}
    sphere_d = sum(
        placed.lens.power_d
        for _, placed in frame.before(EyeSide.RIGHT)
        if placed.lens.kind is LensKind.SPHERE
    )
    done[1] = done[1] or asked
    done[2] = done[2] or (asked and LensKind.PINHOLE in kinds)
    done[3] = done[3] or (done[1] and sphere_d > 0)
    done[4] = done[4] or (asked and sphere_d < 0 and LensKind.PINHOLE not in kinds)
