"""Logs of faults in asking: leading, "the same" not offered, asked again."""

from tests.fault_logs.log import Log, Logs, after, asking, ended, pairing, stepping, tries
from tests.script import Stage, cylinder


def also(times: int, aim: str = "power") -> Stage:
    """Return the careful cylinder with its last comparison asked again."""
    return after(cylinder, *again(times, aim))


def again(times: int, aim: str) -> list[Stage]:
    return [lambda s, side: s.crosses(side, 0.25, aim, "same")] * times


WALK = (-0.75, -0.50, -0.25, 0.00, -0.25, -0.50, -0.75, -1.00)

SHOWS: Logs = {
    "leading-question": (
        Log("once", {"ends": ended(*pairing(0.25, "leading"))}, number=1, size=0.5),
        Log("twice", {"ends": ended(*pairing(0.25, "leading", 2))}, number=2, size=0.5),
    ),
    "same-not-offered": (
        Log("mostly", {"ends": ended(*tries(*WALK * 2, manner="forced"))}, number=16),
        Log(
            "smaller",
            {"ends": ended(*tries(*WALK * 2, manner="forced", question="smaller"))},
            number=16,
        ),
    ),
    "asked-again": (
        Log("the cross", {"cylinder": also(3)}, number=1, size=4.0),
        Log(
            "a change",
            {"ends": ended(*stepping(-0.75), *asking("better", "same", 5), *stepping(-1.00))},
            number=1,
            size=5.0,
        ),
    ),
}

NEARLY: Logs = {
    "leading-question": (
        Log("forced", {"ends": ended(*pairing(0.25, "forced"))}),
        Log("even", {"ends": ended(*pairing(0.25, times=2))}),
    ),
    "same-not-offered": (
        Log("half", {"ends": ended(*tries(*WALK, *WALK[:4], manner="forced"), *tries(*WALK[4:]))}),
        Log("never", {"ends": ended(*tries(*WALK * 2))}),
    ),
    "asked-again": (
        Log("three times", {"cylinder": also(2)}),
        Log("another thing", {"cylinder": after(also(2), *again(2, "axis"))}),
    ),
}
