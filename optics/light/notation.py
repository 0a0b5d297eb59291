"""Prescriptions as people write them: reading what is typed, printing the record.

Read: ``-2.00/-1.00x180``, ``−2 −1 × 180``, ``pl/-0.50x90``, ``+1.25 DS``, comma or point.
A power other than zero must carry its sign. Printed axes run 001 to 180, never 0.
"""

import re

from optics.errors import NotationError
from optics.light.power import SpheroCylinder

LONGEST = 60
LARGEST_D = 30.0
_PLANO = r"(?:pl(?:ano)?|∞)"
_POWER = rf"(?:[+-]\d{{1,2}}(?:\.\d{{1,2}})?|[+-]\.\d{{1,2}}|0{{1,2}}(?:\.0{{1,2}})?|{_PLANO})"
_CYLINDER = r"(?:[+-]\d{1,2}(?:\.\d{1,2})?|[+-]\.\d{1,2}|0{1,2}(?:\.0{1,2})?)"
_WRITTEN = re.compile(
    rf"(?P<sphere>{_POWER})(?:ds|dsph|sph)?"
    rf"(?:(?:/|(?=[+-]))(?P<cylinder>{_CYLINDER})(?:dc|dcyl|cyl)?(?:[x@](?P<axis>\d{{1,3}})°?)?)?",
    re.ASCII,
)
_SIGNS = str.maketrans({"−": "-", "–": "-", "‒": "-", "﹣": "-", "－": "-", "＋": "+"})
_OTHERS = str.maketrans({",": ".", "×": "x", "*": "x", "·": "."})


def parse_prescription(text: str) -> SpheroCylinder:
    """Return the lens that a typed prescription means.

    Raises
    ------
    NotationError
        Saying what was not understood and what is allowed.
    """
    if len(text) > LONGEST:
        raise NotationError(f"a prescription has at most {LONGEST} characters, got {len(text)}")
    tight = _tightened(text)
    if not tight:
        raise NotationError("the prescription is empty; write for example -2.00/-1.00x180")
    match = _WRITTEN.fullmatch(tight)
    if match is None:
        raise NotationError(_complaint(text, tight))
    cylinder_d = parse_number(match["cylinder"]) if match["cylinder"] else 0.0
    axis_deg = _axis(match["axis"], cylinder_d, text)
    sphere_d = 0.0 if re.fullmatch(_PLANO, match["sphere"]) else parse_number(match["sphere"])
    for name, value in (("sphere", sphere_d), ("cylinder", cylinder_d)):
        if abs(value) > LARGEST_D:
            raise NotationError(
                f"the {name} must lie within {LARGEST_D:.0f} D of zero, got {value:+g}"
            )
    return SpheroCylinder(sphere_d=sphere_d, cylinder_d=cylinder_d, axis_deg=axis_deg)


def _tightened(text: str) -> str:
    plain = text.strip().translate(_SIGNS).translate(_OTHERS).lower()
    plain = re.sub(r"\b(?:axis|ax)\b", "x", plain)
    plain = re.sub(r"(?<=[\d.])\s+(?=[\d.])", "/", plain)  # two numbers stay two
    return re.sub(r"\s+", "", plain).replace("d/", "/").removesuffix("d")


def _axis(written: str | None, cylinder_d: float, text: str) -> float:
    if written is None:
        if cylinder_d != 0.0:
            raise NotationError(f"the cylinder in {text!r} needs an axis, such as x180")
        return 180.0
    return parse_axis(written)


def _complaint(text: str, tight: str) -> str:
    if re.match(r"\d", tight) or re.search(r"/\d", tight):
        return f"{text!r} has a power without a sign; write + or −"
    return f"{text!r} is not a prescription; write for example -2.00/-1.00x180 or plano"


def parse_axis(written: str) -> float:
    """Return a typed axis in degrees in (0, 180]; a typed 0 is read as 180."""
    match = re.fullmatch(r"(\d{1,3})°?", written.strip(), re.ASCII)
    if match is None or int(match[1]) > 180:
        raise NotationError(f"the axis must be a whole number from 1 to 180, got {written[:40]!r}")
    return float(int(match[1]) or 180)


def parse_number(written: str) -> float:
    """Return a typed decimal number; comma or point, any minus sign."""
    plain = written.strip().translate(_SIGNS).replace(",", ".")
    if not re.fullmatch(r"[+-]?(\d{1,6}(\.\d{1,9})?|\.\d{1,9})", plain, re.ASCII):
        raise NotationError(f"{written[:40]!r} is not a number such as -1.25")
    return float(plain)


def parse_power(written: str) -> float:
    """Return one typed power in D; a power other than zero must carry its sign."""
    plain = _tightened(written)
    if re.fullmatch(_PLANO, plain):
        return 0.0
    number = parse_number(plain.removesuffix("ds").removesuffix("dc"))
    if number != 0.0 and plain[0] not in "+-":
        raise NotationError(f"{written[:40]!r} has no sign; write + or −")
    if abs(number) > LARGEST_D:
        raise NotationError(f"the power must lie within {LARGEST_D:.0f} D of zero, got {number:+g}")
    return number


def power_text(power_d: float) -> str:
    """Return a power with its sign and two decimals, a true minus sign; plano as 0.00."""
    rounded = round(power_d, 2)
    if rounded == 0.0:
        return "0.00"
    return f"{'−' if rounded < 0 else '+'}{abs(rounded):.2f}"


def axis_text(axis_deg: float) -> str:
    """Return an axis as the record has it, 001 to 180."""
    whole = round(axis_deg) % 180 or 180
    return f"{whole:03d}"


def prescription_text(power: SpheroCylinder) -> str:
    """Return sphere / cylinder x axis in the form it stands in, rounded once to 0.01 D."""
    sphere = power_text(power.sphere_d)
    if round(power.cylinder_d, 2) == 0.0:
        return "plano" if sphere == "0.00" else f"{sphere} DS"
    start = "plano" if sphere == "0.00" else sphere
    return f"{start} / {power_text(power.cylinder_d)} × {axis_text(power.axis_deg)}"
