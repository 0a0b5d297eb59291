"""Logs of faults of the frame: how it sits, which cells hold the lenses, how many they are."""

from server.attempts import acts
from tests.fault_logs.log import ASTIGMAT, Log, Logs, after, writing
from tests.script import Script, Stage, laid_away, sphere


def fitted(right: float, left: float) -> Stage:
    return lambda s, _: s.does(acts.fit(pd_right_mm=right, pd_left_mm=left))


def in_place(place: str, *powers: float) -> Stage:
    def stage(s: Script, side: str) -> None:
        for power in powers:
            s.puts(place, power).reads(0.3)
        s.takes(place)
        sphere(s, side)

    return stage


def stacked(*lenses: tuple) -> Stage:
    """Return an end through other lenses before the right eye: (place, power, axis) each."""

    def stage(s: Script, side: str) -> None:
        laid_away(s)
        for place, *_ in lenses:
            s.takes(place)
        for place, power, *axis in lenses:
            s.puts(place, power, *axis)
        s.pairs(side, 0.25, "same").reads(0.0).takes("R.4")

    return stage


WIDE = ASTIGMAT | {"pd": (34.0, 34.0)}
AS_WIDE_AS_THE_FRAME = ASTIGMAT | {"pd": (33.0, 32.0)}

SHOWS: Logs = {
    "frame-not-fitted": (
        Log("never", {"fits": None}, WIDE, number=1, size=2.0),
        Log("late", {"fits": None, "sphere": after(sphere, fitted(34, 34))}, WIDE, number=1),
    ),
    "pd-wrong": (
        Log("both", {"fits": fitted(34, 34)}, size=3.0),
        Log("one eye", {"fits": fitted(32.75, 32.5)}, size=1.75),
    ),
    "vertex-not-recorded": (
        Log("sphere", {"decides": writing(right_sphere="-4.25", vertex="")}),
        Log("meridian", {"decides": writing(right_sphere="-3.25", vertex="")}),
    ),
    "wrong-cell": (
        Log("cell 2", {"sphere": in_place("R.2", -5.00)}, number=1),
        Log("cell 4", {"sphere": in_place("R.4", +6.00)}, number=1),
    ),
    "stack": (
        Log(
            "three spheres",
            {"ends": stacked(("R.1", -0.25), ("R.2", -0.25), ("R.4", -0.50))},
            number=1,
        ),
        Log("two cylinders", {"ends": stacked(("R.3", -0.50, 180), ("R.2", -0.50, 180))}, number=1),
    ),
}

NEARLY: Logs = {
    "frame-not-fitted": (
        Log("it fits as it is", {"fits": None}, AS_WIDE_AS_THE_FRAME),
        Log("fitted by a millimetre", {"fits": fitted(33, 33)}, WIDE),
    ),
    "pd-wrong": (
        Log("a millimetre each", {"fits": fitted(32, 33.5)}),
        Log("a millimetre and a half", {"fits": fitted(32.5, 32)}),
    ),
    "vertex-not-recorded": (
        Log("4 D", {"decides": writing(right_sphere="-3.00", vertex="")}),
        Log("with its vertex", {"decides": writing(right_sphere="-4.25")}),
    ),
    "wrong-cell": (
        Log("cell 1", {"sphere": in_place("R.1", -5.00)}),
        Log("4 D in cell 2", {"sphere": in_place("R.2", -4.00)}),
    ),
    "stack": (
        Log("two spheres", {"ends": stacked(("R.1", -0.50), ("R.2", -0.50))}),
        Log("a power the set lacks", {"ends": stacked(("R.1", -0.75), ("R.2", -0.12))}),
    ),
}
