"""Logs of faults around the first lens: acuity, the other eye, the pinhole."""

from tests.fault_logs.log import ASTIGMAT, Log, Logs, after, ended, left_open
from tests.script import Script, cross, decides, pinhole, sphere, unaided


def both_at_the_end(s: Script, side: str) -> None:
    """Ask about more plus before both eyes, each of which has been examined alone."""
    s.takes("R.4").takes("L.4").puts("R.2", +0.25).puts("L.2", +0.25).asks("better", "worse")
    s.takes("R.2").takes("L.2")
    decides(s, side)


SHOWS: Logs = {
    "no-unaided-acuity": (
        Log("not asked", {"unaided": lambda s, _: s.covers("L")}, size=1.5),
        Log("together", {"unaided": lambda s, _: s.reads(0.2).covers("L"), "pinhole": None}),
    ),
    "other-eye-open": (
        Log("sphere", {"sphere": left_open(sphere)}, ASTIGMAT | {"left": "-0.50"}, 1, 0.5),
        Log("cross", {"cross": left_open(cross)}, ASTIGMAT | {"left": "plano"}, 2, 0.0),
    ),
    "pinhole-skipped": (
        Log("unaided", {"pinhole": None}, size=6.0),
        Log("at the end", {"ends": after(ended(), lambda s, _: s.reads(0.3))}, size=3.0),
    ),
}

NEARLY: Logs = {
    "no-unaided-acuity": (
        Log("a finger count", {"unaided": lambda s, _: s.covers("L").asks("nearer", "fingers-1")}),
        Log("after the occluder", {"unaided": after(unaided, lambda s, _: s.reads(0.6))}),
    ),
    "other-eye-open": (
        Log("the other is fogged", {"sphere": left_open(sphere)}),
        Log("both at the end", {"decides": both_at_the_end}),
    ),
    "pinhole-skipped": (
        Log("6/9 unaided", {"unaided": lambda s, _: s.covers("L").reads(0.2), "pinhole": None}),
        Log(
            "at the end too", {"ends": after(ended(), lambda s, side: pinhole(s.reads(0.3), side))}
        ),
    ),
}
