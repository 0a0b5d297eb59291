"""Logs of faults in keeping sphere and cylinder together: not compensated, both at once."""

from tests.fault_logs.log import Act, Log, Logs, asking, chart, dim, ended, stepping, tries
from tests.script import Script, Stage, gives, laid_away


def uncompensated(*powers: float) -> Stage:
    def stage(s: Script, side: str) -> None:
        for power in powers:
            gives(s, side, power, 180, with_sphere=False)
            s.crosses(side, 0.25, "axis", "same").crosses(side, 0.25, "power", "second")
        s.crosses(side, 0.25, "power", "same").steps_to("R.1", -1.00)

    return stage


def compensated_late(s: Script, side: str) -> None:
    for power in (-0.50, -1.00):
        gives(s, side, power, 180, with_sphere=False)
        s.crosses(side, 0.25, "axis", "same")
        gives(s, side, power, 180)
        s.crosses(side, 0.25, "power", "same")


def over_plussed_first(s: Script, side: str) -> None:
    """Let the cylinder itself bring the mean sphere home."""
    s.steps_to("R.1", -1.25).asks("better", "worse")
    gives(s, side, -0.50, 180, with_sphere=False)
    s.crosses(side, 0.25, "axis", "same").crosses(side, 0.25, "power", "second")
    gives(s, side, -1.00, 180)
    s.crosses(side, 0.25, "power", "same")


def both_new(s: Script) -> None:
    s.puts("R.3", -0.50, 180).steps_to("R.1", -1.50).asks("better", "worse")
    s.puts("R.3", -1.00, 180).steps_to("R.1", -1.00).pairs("R", 0.25, "same")


def axis_and_sphere(s: Script) -> None:
    s.turns("R.3", 20).steps_to("R.1", -0.75).asks("more", "fewer")
    s.turns("R.3", 180).steps_to("R.1", -1.00)


def crossed_last(answer: str) -> Act:
    """Return an act that asks about the power once more and lays the cross cylinder away."""

    def act(s: Script) -> None:
        s.crosses("R", 0.25, "power", answer)
        laid_away(s)

    return act


def sphere_then_cylinder(s: Script) -> None:
    s.steps_to("R.1", -1.25).puts("R.3", -1.50, 180).asks("better", "worse")
    s.puts("R.3", -1.00, 180).steps_to("R.1", -1.00).pairs("R", 0.25, "same")


def cylinder_back_then_minus(s: Script) -> None:
    """Follow two answers that reverse, then ask about a quarter more minus."""
    crossed_last("second")(s)
    gives(s, "R", -1.50, 180)
    crossed_last("first")(s)
    gives(s, "R", -1.00, 180)
    s.steps_to("R.1", -1.25).asks("better", "same").steps_to("R.1", -1.00)


def exchanged_evenly(s: Script) -> None:
    s.puts("R.3", -0.50, 180).steps_to("R.1", -1.25).asks("better", "worse")
    s.puts("R.3", -1.00, 180).steps_to("R.1", -1.00).pairs("R", 0.25, "same")


def cylinder_alone(s: Script) -> None:
    s.puts("R.3", -0.75, 180).asks("better", "worse").puts("R.3", -1.00, 180)
    s.pairs("R", 0.25, "same")


def one_more_cylinder(s: Script) -> None:
    s.puts("R.3", -1.25, 180).asks("better", "worse").puts("R.3", -1.00, 180)


SHOWS: Logs = {
    "sphere-not-compensated": (
        Log("by halves", {"cylinder": uncompensated(-0.50, -1.00)}, number=2, size=0.5),
        Log("at once", {"cylinder": uncompensated(-1.00)}, number=1, size=0.5),
    ),
    "no-return-to-sphere": (
        Log("read only", {"ends": ended(plainly=False)}, size=0.0),
        Log("asked else", {"ends": ended(*asking("doubled", "single"), plainly=False)}),
    ),
    "two-at-once": (
        Log("cylinder and sphere", {"ends": ended(both_new)}, number=1, size=0.25),
        Log("axis and sphere", {"ends": ended(axis_and_sphere)}, number=1, size=0.25),
        Log(
            "after no answer", {"ends": ended(crossed_last("same"), both_new)}, number=1, size=0.25
        ),
        Log(
            "after an answer, of the cylinder",
            {"ends": ended(crossed_last("second"), sphere_then_cylinder)},
            number=1,
            size=0.5,
        ),
    ),
}

NEARLY: Logs = {
    "sphere-not-compensated": (
        Log("a question late", {"cylinder": compensated_late}),
        Log("over-plus before", {"cylinder": over_plussed_first}),
    ),
    "no-return-to-sphere": (
        Log("two colours", {"ends": ended(dim, *asking("colour", "same"), chart, plainly=False)}),
        Log("a quarter more plus", {"ends": ended(*tries(-0.75), *stepping(-1.00), plainly=False)}),
        Log("a cylinder tried and put back", {"ends": ended(one_more_cylinder)}),
    ),
    "two-at-once": (
        Log("the mean kept", {"ends": ended(exchanged_evenly)}),
        Log("the cylinder alone", {"ends": ended(cylinder_alone)}),
        Log("the cylinder as answered", {"ends": ended(cylinder_back_then_minus)}),
    ),
}
