"""Logs of faults in following the cross cylinder: turned away, unsuited turns, stopped early."""

from tests.fault_logs.log import Log, Logs, after
from tests.script import Script, Stage, cylinder, gives, laid_away


def turned(*turns: tuple[str, float], size: float = -0.50) -> Stage:
    """Return a search for the axis: (answer, axis turned to after it) each."""

    def stage(s: Script, side: str) -> None:
        gives(s, side, size, 180)
        for answer, axis in turns:
            s.crosses(side, 0.25, "axis", answer)
            s.turns(f"{side}.3", axis)
        s.crosses(side, 0.25, "axis", "same").crosses(side, 0.25, "power", "second")
        gives(s, side, -1.00, 180)
        s.crosses(side, 0.25, "axis", "same").crosses(side, 0.25, "power", "same")

    return stage


def stopping(*answers: tuple[float, str, str], axis: float = 180) -> Stage:
    """Return a cylinder that ends with (power, aim, answer) each."""

    def stage(s: Script, side: str) -> None:
        for power, aim, answer in answers:
            gives(s, side, power, axis)
            s.crosses(side, 0.25, aim, answer)

    return stage


def reverses(s: Script) -> None:
    s.crosses("R", 0.25, "power", "second")
    gives(s, "R", -1.50, 180)
    s.crosses("R", 0.25, "power", "first")
    laid_away(s)


AXIS_OFF = ((-1.00, "axis", "first"),)

SHOWS: Logs = {
    "turned-away": (
        Log("clockwise", {"cylinder": turned(("first", 165), ("same", 180))}, number=1),
        Log("counter-clockwise", {"cylinder": turned(("second", 15), ("same", 180))}, number=1),
    ),
    "turn-size": (
        Log("fine", {"cylinder": turned(("first", 5), ("first", 10), ("same", 180))}, number=2),
        Log("coarse", {"cylinder": turned(("first", 45), ("second", 180))}, number=2, size=45.0),
    ),
    "stopped-early": (
        Log("power", {"cylinder": stopping((-0.50, "axis", "same"), (-0.50, "power", "second"))}),
        Log("axis", {"cylinder": stopping(*AXIS_OFF, axis=170)}, number=1),
    ),
}

NEARLY: Logs = {
    "turned-away": (
        Log("towards and back", {"cylinder": turned(("first", 15), ("second", 180))}),
        Log("after the same", {"cylinder": turned(("same", 165), ("same", 180))}),
    ),
    "turn-size": (
        Log("fine once", {"cylinder": turned(("first", 5), ("second", 180))}),
        Log(
            "fine after a reversal",
            {"cylinder": turned(("first", 15), ("second", 10), ("second", 5), ("second", 180))},
        ),
    ),
    "stopped-early": (
        Log("reversed", {"cylinder": after(cylinder, lambda s, _: reverses(s))}),
        Log(
            "next to nothing left",
            {"cylinder": after(cylinder, lambda s, side: s.crosses(side, 0.25, "power", "second"))},
        ),
    ),
}
