"""Logs of faults with the two colours: asked where they cannot tell, followed backwards."""

from server.attempts import acts
from tests.fault_logs.log import Act, Log, Logs, asking, chart, dim, ended, left_open, stepping
from tests.script import Script


def lit(s: Script) -> Script:
    return s.does(acts.change_wall(lit=True))


def reading(acuity: float) -> list[Act]:
    return [lambda s: s.reads(acuity)]


def colours(answer: str, then: float) -> list[Act]:
    """Return acts that ask the two colours in the dim, step, ask again and go back."""
    follow = [*stepping(then), *asking("colour", "same"), *stepping(-1.00)]
    return [dim, *asking("colour", answer), *follow, chart]


def bracketing() -> list[Act]:
    """Return acts that ask on the wrong side first, then on the right one, and go back."""
    wrong = [*asking("colour", "red"), *stepping(-0.75), *asking("colour", "red")]
    right = [*stepping(-1.25), *asking("colour", "green"), *stepping(-1.00)]
    return [dim, *wrong, *right, chart]


SHOWS: Logs = {
    "duochrome-misused": (
        Log("lit", {"ends": ended(dim, lit, *asking("colour", "same"), chart)}, number=1),
        Log(
            "both eyes", {"ends": left_open(ended(dim, *asking("colour", "same"), chart))}, number=1
        ),
    ),
    "duochrome-backwards": (
        Log("plus after red", {"ends": ended(*colours("red", -0.75))}, number=1, size=0.25),
        Log("minus after green", {"ends": ended(*colours("green", -1.25))}, number=1, size=0.25),
    ),
}

NEARLY: Logs = {
    "duochrome-misused": (
        Log("dim and alone", {"ends": ended(dim, *asking("colour", "same"), chart)}),
        Log("at 6/9", {"ends": ended(*reading(0.2), dim, *asking("colour", "green"), chart)}),
    ),
    "duochrome-backwards": (
        Log("minus after red", {"ends": ended(*colours("red", -1.25))}),
        Log("plus after green", {"ends": ended(*colours("green", -0.75))}),
        Log("bracketed", {"ends": ended(*bracketing())}),
    ),
}
