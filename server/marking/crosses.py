"""What was shown of a cross cylinder, and which way each answer pointed."""

from dataclasses import dataclass, field
from enum import StrEnum

from server.attempts.hand import cylinder_axis_deg
from server.marking.looks import EyeWork, Look

ALIGNED_DEG = 5.0


class Shown(StrEnum):
    """How the handle lay: with no cylinder there, for its axis, for its power, or neither."""

    BARE = "bare"
    AXIS = "axis"
    POWER = "power"
    ASKEW = "askew"


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossed:
    """One comparison through a cross cylinder.

    ``toward`` is where the answer points: for the axis +1 counter-clockwise and -1 clockwise,
    for the power +1 more and -1 less minus cylinder, 0 for the same; ``askew_deg`` how far the
    handle lay from where it belongs.
    """

    look: Look = field(repr=False)
    shown: Shown
    toward: int
    askew_deg: float
    power_d: float


def crosses_of(work: EyeWork) -> tuple[Crossed, ...]:
    """Return every comparison through a cross cylinder before an eye."""
    return tuple(_crossed(look) for look in work.looks if look.crossed)


def _crossed(look: Look) -> Crossed:
    state = look.step.state
    hand, frame = state.hand, state.frame
    assert hand is not None
    off = turned_deg(cylinder_axis_deg(frame, look.side), hand.handle_deg(frame)) % 90.0
    askew = min(off, abs(off - 45.0), 90.0 - off)
    shown = Shown.BARE
    if look.lenses.cylinders:
        shown = Shown.AXIS if min(off, 90.0 - off) <= 22.5 else Shown.POWER
        shown = Shown.ASKEW if askew > ALIGNED_DEG + 1e-6 else shown
    face = {"first": 1, "second": 2}.get(look.code, 0)
    chosen = hand.minus_axis_deg(frame, face) if face else None
    toward = 0
    if chosen is not None:
        turn = turned_deg(look.lenses.axis_deg, chosen)
        # along the minus axis (turn near 0) asks for more, across it (near 90) for less
        toward = (1 if turn > 0.0 else -1) if shown is Shown.AXIS else 1 if abs(turn) < 45 else -1
    return Crossed(
        look=look,
        shown=shown,
        toward=toward,
        askew_deg=askew if look.lenses.cylinders else 0.0,
        power_d=hand.power_d,
    )


def turned_deg(from_deg: float, to_deg: float) -> float:
    """Return the shorter turn from one axis to another, -90 to below 90."""
    return (to_deg - from_deg + 90.0) % 180.0 - 90.0


def reversed_at(crosses: tuple[Crossed, ...], index: int) -> bool:
    """Say whether an answer points against the answer before it to the same question."""
    now = crosses[index]
    if now.shown is Shown.BARE:  # the two pairs of directions are different questions
        return False
    before = [one for one in crosses[:index] if one.shown is now.shown and one.toward]
    return bool(before) and before[-1].toward == -now.toward
