"""Logs of faults in setting out with the cross cylinder: too early, power first, size, askew."""

from server.attempts import acts
from tests.fault_logs.log import ASTIGMAT, Log, Logs, after, begun_with, chart
from tests.script import Script, Stage, cross, cylinder, gives, laid_away


def fanned(s: Script, _: str = "") -> None:
    laid_away(s)
    s.does(acts.change_wall(view="fan")).asks("lines", "6")


def power_then_axis(s: Script, side: str) -> None:
    gives(s, side, -0.50, 180)
    s.crosses(side, 0.25, "power", "second").crosses(side, 0.25, "axis", "same")
    gives(s, side, -1.00, 180)
    s.crosses(side, 0.25, "power", "same")


def crossing(size: float, times: int = 2, answer: str = "second") -> Stage:
    def stage(s: Script, side: str) -> None:
        for aim in (45, 180, 45, 180)[:times]:
            s.crosses(side, size, aim, answer)

    return stage


def weakly(s: Script, side: str) -> None:
    """Hold ±0.25 before an eye that reads 6/24."""
    s.reads(0.6)
    cross(s, side)
    laid_away(s)
    s.reads(0.1)


def askew(handle_deg: float) -> Stage:
    return after(cylinder, lambda s, side: s.crosses(side, 0.25, handle_deg, "same"))


def stopped_at(sphere_d: float) -> Stage:
    return lambda s, _: s.steps_to("R.1", sphere_d).reads(0.3)


def placed_early(s: Script, side: str) -> None:
    s.puts("R.3", -0.50, 180).asks("better", "better")
    mistaken(s, side)


def mistaken(s: Script, _: str) -> None:
    """Take the cylinder out and find the sphere."""
    s.takes("R.3").steps_to("R.1", -1.50).reads(0.1)


def fan_early(s: Script, _: str) -> None:
    fanned(s)
    s.puts("R.3", -0.50, 180).takes("R.3").steps_to("R.1", -1.50)
    chart(s).reads(0.1)


STRONGER = {"right": "-1.00/-2.00x180", "left": "-2.00"}
TOLD = ASTIGMAT | {"more": '\n[start]\nobjective_right = "-1.25/-0.50x180"\n'}

SHOWS: Logs = {
    "cylinder-before-sphere": (
        Log("held", {"sphere": lambda s, _: s.reads(0.1)}, size=1.5),
        Log("placed", {"sphere": placed_early}),
        Log("behind both lines", {"sphere": stopped_at(-0.75)}, STRONGER, size=1.25),
    ),
    "power-before-axis": (
        Log("after pairs", {"cylinder": power_then_axis}, size=0.5),
        Log("at once", {"cross": None, "cylinder": power_then_axis}, size=0.5),
    ),
    "cross-size": (
        Log("strong", {"cross": crossing(1.00)}, number=2, size=1.0),
        Log("weak", {"cross": weakly}, number=2, size=0.25),
    ),
    "cross-askew": (
        Log("15 degrees", {"cylinder": askew(30)}, number=1, size=15.0),
        Log("10 degrees", {"cylinder": askew(125)}, number=1, size=10.0),
    ),
}

NEARLY: Logs = {
    "cylinder-before-sphere": (
        Log("within half", {"sphere": stopped_at(-1.00)}),
        Log("at the rear focal line", {"sphere": stopped_at(-1.00)}, STRONGER),
        Log("by the fan", {"sphere": fan_early}),
        Log("by mistake", {"sphere": lambda s, side: mistaken(s.puts("R.3", -0.50, 180), side)}),
        Log("given", {"sphere": begun_with(-1.25, -0.50, 0.5), "cross": None}, TOLD),
    ),
    "power-before-axis": (
        Log(
            "the fan has told it",
            {
                "cross": lambda s, _: fanned(s),
                "cylinder": after(lambda s, _: chart(s), power_then_axis),
            },
        ),
        Log("axis first", {"cross": None}),
    ),
    "cross-size": (
        Log("once", {"cross": crossing(0.50, 1)}),
        Log("after no answer", {"cross": after(crossing(0.25, 1, "same"), crossing(0.50))}),
    ),
    "cross-askew": (
        Log("5 degrees", {"cylinder": askew(5)}),
        Log("45 degrees set by hand", {"cylinder": askew(135)}),
    ),
}
