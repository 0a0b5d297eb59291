"""The record card: its fields, checked for how they are written, never for sense."""

import re
from collections.abc import Callable, Mapping

from optics.errors import NotationError
from optics.light.notation import axis_text, parse_axis, parse_number, parse_power, power_text
from server.errors import Refused

LONGEST = 200
EYES = ("right", "left")


def _power(text: str) -> str:
    return power_text(parse_power(text))


def _axis(text: str) -> str:
    return axis_text(parse_axis(text))


def _length(least: float, most: float, unit: str) -> Callable[[str], str]:
    def check(text: str) -> str:
        value = parse_number(text.removesuffix(unit))
        if not least <= value <= most:
            raise NotationError(f"must be {least:g} to {most:g} {unit}, got {text!r}")
        return f"{value:g}"

    return check


_ACUITY = re.compile(
    r"(?:(?P<metric>[3-6])/(?P<x>\d{1,3}(?:\.\d)?)|20/(?P<feet>\d{1,3})"
    r"|(?P<plain>[+-]?\d?\.\d{1,2}|\d(?:\.0{1,2})?)|(?P<low>cf|hm|pl|npl))"
    r"(?:\s*(?P<letters>[+-]\s?[1-5]))?",
    re.ASCII | re.IGNORECASE,
)


def _acuity(text: str) -> str:
    plain = text.strip().replace("−", "-").replace(",", ".")
    if _ACUITY.fullmatch(plain) is None:
        raise NotationError(
            f"{text[:40]!r} is not an acuity; write 6/9, 6/9-2, 20/30, 0.67, 0.18 or CF"
        )
    return plain.upper().replace("-", "−") if plain.isalpha() else plain.replace("-", "−")


def _words(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


def _choice(*allowed: str) -> Callable[[str], str]:
    def check(text: str) -> str:
        if text not in allowed:
            raise NotationError(f"must be one of {', '.join(allowed)}, got {text[:40]!r}")
        return text

    return check


_OF_EACH_EYE: Mapping[str, tuple[str, Callable[[str], str]]] = {
    "unaided": ("unaided acuity", _acuity),
    "pinhole": ("pinhole acuity", _acuity),
    "sphere": ("sphere", _power),
    "cylinder": ("cylinder", _power),
    "axis": ("axis", _axis),
    "acuity": ("acuity", _acuity),
    "add": ("near addition", _power),
    "prism": ("prism", _words),
    "pd": ("half PD", _length(24, 40, "mm")),
}
FIELDS: Mapping[str, tuple[str, Callable[[str], str]]] = {
    **{
        f"{eye}_{name}": (f"{eye} {label}", check)
        for eye in EYES
        for name, (label, check) in _OF_EACH_EYE.items()
    },
    "vertex": ("vertex distance", _length(8, 20, "mm")),
    "binocular_acuity": ("binocular acuity", _acuity),
    "comments": ("comments", _words),
    "prescribe": ("prescribe", _choice("yes", "no")),
    "refer": ("refer", _choice("none", "routine", "urgent", "same day")),
}


def checked_field(name: str, text: str) -> str:
    """Return a field as the card keeps it; an empty one clears it.

    Raises
    ------
    Refused
        Naming the field, what came and what is allowed.
    """
    if name not in FIELDS:
        raise Refused(f"The card has no field {name[:40]!r}", "record")
    label, check = FIELDS[name]
    if len(text) > LONGEST:
        raise Refused(f"{label}: at most {LONGEST} characters, got {len(text)}", name)
    if not text.strip():
        return ""
    try:
        return check(text.strip())
    except NotationError as fault:
        raise Refused(f"{label}: {fault}", name) from None
