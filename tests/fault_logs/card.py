"""Logs of faults of the record and of judgement: eyes swapped, signs lost, a warning missed."""

from tests.fault_logs.log import ASTIGMAT, Log, Logs, writing
from tests.script import Stage, decides

NONE_NEEDED = '\n[answer]\nprescribe = "no"\nrefer = "{refer}"\nbecause = "So it is."\n'


def judged(prescribe: str, refer: str) -> Stage:
    return lambda s, _: s.writes(prescribe=prescribe, refer=refer)


SWAP = {"right_sphere": "-2.00", "right_cylinder": "", "left_sphere": "-1.00"}
STOP = {"more": NONE_NEEDED.format(refer="urgent")}
SAME_DAY = {"more": NONE_NEEDED.format(refer="same day")}
NO_LENS = {"more": NONE_NEEDED.format(refer="none")}

SHOWS: Logs = {
    "eyes-swapped": (
        Log("both", {"decides": writing(**SWAP, left_cylinder="-1.00", left_axis="180")}),
        Log(
            "nearly as found", {"decides": writing(**SWAP, left_cylinder="-0.75", left_axis="180")}
        ),
    ),
    "sign-lost": (
        Log("right", {"decides": writing(right_sphere="+1.00")}, size=2.0),
        Log("left", {"decides": writing(left_sphere="+2.00")}, size=4.0),
    ),
    "warning-missed": (
        Log("not at all", {"decides": judged("no", "none")}, ASTIGMAT | STOP),
        Log("too slowly", {"decides": judged("no", "urgent")}, ASTIGMAT | SAME_DAY),
    ),
    "prescribed-against": (
        Log("none needed", {}, ASTIGMAT | NO_LENS, size=2.0),
        Log("to be referred", {"decides": judged("yes", "urgent")}, ASTIGMAT | STOP, size=2.0),
    ),
}

NEARLY: Logs = {
    "eyes-swapped": (
        Log("eyes alike", {"decides": decides}, {"right": "-1.50", "left": "-1.75"}),
        Log(
            "one written twice",
            {"decides": writing(left_sphere="-1.00", left_cylinder="-1.00", left_axis="180")},
        ),
    ),
    "sign-lost": (
        Log("another power", {"decides": writing(right_sphere="+0.25")}),
        Log(
            "transposed",
            {"decides": writing(right_sphere="-2.00", right_cylinder="+1.00", right_axis="90")},
        ),
    ),
    "warning-missed": (
        Log("as fast as needed", {"decides": judged("no", "urgent")}, ASTIGMAT | STOP),
        Log("faster", {"decides": judged("no", "same day")}, ASTIGMAT | STOP),
    ),
    "prescribed-against": (
        Log("not prescribed", {"decides": judged("no", "none")}, ASTIGMAT | NO_LENS),
        Log("not decided", {"decides": None}, ASTIGMAT | NO_LENS),
    ),
}
