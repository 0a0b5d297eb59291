"""What people type: understood with its one meaning, or refused with what was wrong."""

import pytest

from optics.errors import NotationError
from optics.light.notation import (
    axis_text,
    parse_axis,
    parse_number,
    parse_power,
    parse_prescription,
    power_text,
    prescription_text,
)
from optics.light.power import SpheroCylinder

# common practice, no source: what the trade writes and means
ACCEPTED = [
    ("-2.00/-1.00x180", (-2.0, -1.0, 180)),
    ("−2.00/−1.00x180", (-2.0, -1.0, 180)),  # the true minus sign
    ("–2.00/–1.00x180", (-2.0, -1.0, 180)),  # the dash that a telephone types
    ("−2 −1 × 180", (-2.0, -1.0, 180)),
    ("-2 -1 x 180", (-2.0, -1.0, 180)),
    ("- 2.00 / - 1.00 x 180", (-2.0, -1.0, 180)),
    ("-2,00/-1,00x180", (-2.0, -1.0, 180)),
    ("-2.00 -1.00 X 180", (-2.0, -1.0, 180)),
    ("-2.00 -1.00 @ 180", (-2.0, -1.0, 180)),
    ("-2.00/-1.00*180", (-2.0, -1.0, 180)),
    ("-2.00/-1.00x180°", (-2.0, -1.0, 180)),
    ("-2.00/-1.00 axis 180", (-2.0, -1.0, 180)),
    ("-2.00/-1.00 ax 5", (-2.0, -1.0, 5)),
    ("-2.00/-1.00x005", (-2.0, -1.0, 5)),
    ("-2.00/-1.00x0", (-2.0, -1.0, 180)),
    ("-2.00DS/-1.00DCx90", (-2.0, -1.0, 90)),
    ("-2.00 D", (-2.0, 0.0, 180)),
    ("pl/-0.50x90", (0.0, -0.5, 90)),
    ("plano/-0.50x90", (0.0, -0.5, 90)),
    ("Plano / -0.50 x 90", (0.0, -0.5, 90)),
    ("∞/-0.50x90", (0.0, -0.5, 90)),
    ("plano", (0.0, 0.0, 180)),
    ("PL", (0.0, 0.0, 180)),
    ("0", (0.0, 0.0, 180)),
    ("0.00", (0.0, 0.0, 180)),
    ("+1.25 DS", (1.25, 0.0, 180)),
    ("+1.25sph", (1.25, 0.0, 180)),
    ("＋1.25", (1.25, 0.0, 180)),
    ("+.75", (0.75, 0.0, 180)),
    ("+1", (1.0, 0.0, 180)),
    ("  -0.25  ", (-0.25, 0.0, 180)),
    ("+3.00/+1.00x90", (3.0, 1.0, 90)),
    ("-10.75/-4.25x127", (-10.75, -4.25, 127)),
    ("-2.00/0.00", (-2.0, 0.0, 180)),
    ("-2.00 0.00", (-2.0, 0.0, 180)),
]


@pytest.mark.parametrize(("typed", "meaning"), ACCEPTED, ids=[typed for typed, _ in ACCEPTED])
def test_a_written_prescription_has_one_meaning(typed, meaning):
    sphere_d, cylinder_d, axis_deg = meaning
    read = parse_prescription(typed)
    assert (read.sphere_d, read.cylinder_d, read.axis_deg) == (sphere_d, cylinder_d, axis_deg)


REFUSED = [
    ("", "is empty"),
    ("   ", "is empty"),
    ("2.00", "without a sign"),
    ("2.00/-1.00x180", "without a sign"),
    ("-2.00/1.00x180", "without a sign"),
    ("-2.00 1.00 x 180", "without a sign"),
    ("-2 5", "without a sign"),  # never read as -25
    ("-2.00/-1.00", "needs an axis"),
    ("-2.00/-1.00x181", "axis must be a whole number from 1 to 180, got '181'"),
    ("-2.00/-1.00x999", "axis must be a whole number"),
    ("-2.00/-1.00x-1", "is not a prescription"),
    ("-2.00/-1.00x12.5", "is not a prescription"),
    ("-2.00x180", "is not a prescription"),  # a cylinder alone: never read as a sphere
    ("NaN", "is not a prescription"),
    ("nan/nan x nan", "is not a prescription"),
    ("inf", "is not a prescription"),
    ("-inf", "is not a prescription"),
    ("+1e3", "is not a prescription"),
    ("--2.00", "is not a prescription"),
    ("-2.125", "is not a prescription"),
    ("-2.00/-1.00x180/-1.00x90", "is not a prescription"),
    ("<script>alert(1)</script>", "is not a prescription"),
    ("-31.00", "sphere must lie within 30 D of zero, got -31"),
    ("-2.00/-30.25x90", "cylinder must lie within 30 D"),
    ("-200", "is not a prescription"),  # never read as -20 and no cylinder
    ("+300", "is not a prescription"),
    ("minus two", "is not a prescription"),
    ("-٢.٠٠", "is not a prescription"),  # digits of another script
    ("-" + "2" * 999, "at most 60 characters, got 1000"),
]


@pytest.mark.parametrize(
    ("typed", "complaint"), REFUSED, ids=[repr(typed[:30]) for typed, _ in REFUSED]
)
def test_what_is_not_understood_is_refused_with_the_reason(typed, complaint):
    with pytest.raises(NotationError) as refusal:
        parse_prescription(typed)
    message = str(refusal.value)
    assert complaint in message
    assert "\n" not in message
    assert len(message) < 200


@pytest.mark.parametrize(
    ("typed", "axis_deg"), [("1", 1), ("090", 90), ("180", 180), ("0", 180), (" 45° ", 45)]
)
def test_an_axis_runs_from_1_to_180(typed, axis_deg):
    assert parse_axis(typed) == axis_deg


@pytest.mark.parametrize(
    "typed", ["181", "-1", "12.5", "", "x", "NaN", "inf", "1_0", "+9", "9" * 1000, "٩"]
)
def test_an_axis_beyond_is_refused(typed):
    with pytest.raises(NotationError, match="whole number from 1 to 180") as refusal:
        parse_axis(typed)
    assert len(str(refusal.value)) < 120


@pytest.mark.parametrize(
    ("typed", "power_d"),
    [("-1.25", -1.25), ("−1,25", -1.25), ("+0.50 DS", 0.5), ("pl", 0.0), ("0", 0.0), ("-.5", -0.5)],
)
def test_one_power_is_read_as_written(typed, power_d):
    assert parse_power(typed) == power_d


@pytest.mark.parametrize(
    ("typed", "complaint"),
    [
        ("1.25", "has no sign"),
        ("-31", "within 30 D"),
        ("nan", "is not a number"),
        ("inf", "is not a number"),
        ("", "is not a number"),
        ("-2 5", "is not a number"),
        ("-" + "9" * 999, "is not a number"),
    ],
)
def test_one_power_is_refused_with_the_reason(typed, complaint):
    with pytest.raises(NotationError, match=complaint) as refusal:
        parse_power(typed)
    assert len(str(refusal.value)) < 120


@pytest.mark.parametrize(("typed", "number"), [("6", 6.0), ("-0,5", -0.5), (".25", 0.25)])
def test_a_number_is_read(typed, number):
    assert parse_number(typed) == number


@pytest.mark.parametrize("typed", ["", ".", "1.", "1e400", "nan", "1_0", "9" * 400, "0x10"])
def test_what_is_no_number_is_refused(typed):
    with pytest.raises(NotationError, match="is not a number"):
        parse_number(typed)


# common practice, no source: two decimals, a sign always, axes 001 to 180
@pytest.mark.parametrize(
    ("power", "record"),
    [
        ((-2.0, -1.0, 180), "−2.00 / −1.00 × 180"),
        ((0.0, -0.5, 90), "plano / −0.50 × 090"),
        ((1.25, 0.0, 180), "+1.25 DS"),
        ((0.0, 0.0, 33), "plano"),
        ((3.0, 1.0, 5), "+3.00 / +1.00 × 005"),
        ((-0.001, 0.001, 5), "plano"),
    ],
)
def test_the_record_prints_a_power_one_way(power, record):
    sphere_d, cylinder_d, axis_deg = power
    written = SpheroCylinder(sphere_d=sphere_d, cylinder_d=cylinder_d, axis_deg=axis_deg)
    assert prescription_text(written) == record


def test_powers_and_axes_never_print_a_minus_zero_or_axis_0():
    assert power_text(-0.0) == power_text(-0.004) == "0.00"
    assert axis_text(0.3) == axis_text(179.7) == axis_text(180.0) == "180"
