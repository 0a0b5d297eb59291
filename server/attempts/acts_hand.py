"""Acts with what is held before an eye: take it up, aim it, show a face, lay it away."""

from optics.light.frame import Place, place_name
from optics.light.lens import EyeSide
from server.attempts.acts import Act, Done
from server.attempts.hand import FIRST_HANDLE_DEG, POWERS_D, Aim, Hand, Tool
from server.attempts.state import State
from server.errors import Refused

FACES = {0: "away", 1: "first", 2: "second"}


def hold(side: EyeSide, tool: str, power_d: float) -> Act:
    """Take up a tool before an eye, away from it at first."""

    def act(state: State, _: bytes) -> Done:
        names = [one.value for one in Tool]
        if tool not in names:
            raise Refused(f"What is held must be one of {', '.join(names)}, got {tool!r}", "tool")
        powers = POWERS_D[Tool(tool)]
        if power_d not in powers:
            allowed = ", ".join(f"{one:.2f}" for one in powers)
            raise Refused(f"Its power must be one of {allowed}, got {power_d:g}", "tool")
        if state.frame.at(side, Place.HAND) is not None:
            raise Refused(f"Take the lens out of {place_name(side, Place.HAND)} first", "tool")
        before = state.hand
        kept = before if before is not None and before.tool is Tool.CROSS else None
        aim = kept.aim if kept else Aim.SET
        set_deg = kept.set_deg if kept else FIRST_HANDLE_DEG
        body = {
            "tool": tool,
            "side": side.value,
            "power": power_d,
            "aim": aim.value,
            "set": set_deg,
        }
        return Done(kind="hold", body=body)

    return act


def aim(how: str | None = None, to_deg: float | None = None, by_deg: float | None = None) -> Act:
    """Turn a cross cylinder's handle: along the cylinder's axis, 45 degrees off, or to a degree."""

    def act(state: State, _: bytes) -> Done:
        hand = _held(state)
        if hand.tool is not Tool.CROSS:
            raise Refused("Only a cross cylinder has a handle to turn", "aim")
        if how in (Aim.AXIS.value, Aim.POWER.value):
            return Done(kind="aim", body={"aim": how, "set": hand.set_deg})
        if to_deg is None and by_deg is None:
            raise Refused("Give where the handle lies: axis, power, or 0 to 180 degrees", "aim")
        handle = hand.handle_deg(state.frame) + (by_deg or 0.0) if to_deg is None else to_deg
        return Done(kind="aim", body={"aim": Aim.SET.value, "set": handle % 180.0 or 180.0})

    return act


def show(face: int) -> Act:
    """Show a face of what is held, or hold it away (0)."""

    def act(state: State, _: bytes) -> Done:
        _held(state)
        if face not in FACES:
            raise Refused(f"The face must be 1, 2 or 0 for away, got {face}", "face")
        return Done(kind="show", body={"face": face})

    return act


def swap() -> Act:
    """Call the second face the first from now on."""

    def act(state: State, _: bytes) -> Done:
        _held(state)
        return Done(kind="swap", body={})

    return act


def away() -> Act:
    """Lay away what is held."""

    def act(state: State, _: bytes) -> Done:
        _held(state)
        return Done(kind="away", body={})

    return act


def _held(state: State) -> Hand:
    if state.hand is None:
        raise Refused("Nothing is held before the eye: take up a cross cylinder or a pair", "tool")
    return state.hand
