"""The canary: an eye whose figures no page can hold by chance, and all ways to write them.

The arithmetic is done here again, on principal meridians, so that a fault of the engine does
not hide what is looked for.
"""

import base64
import html
import math
import re
from collections.abc import Iterator

from tests.student import case_text

STEM = "quillwort"
RIGHT = (-3.37, -1.13, 137)
LEFT = (2.61, -0.87, 41)
NEED_TEXTS = ("−3.37 / −1.13 × 137", "+2.61 / −0.87 × 041")
VERTICES_MM = (0.0, 10.0, 13.0, 13.75, 14.0, 15.5, 19.0, 22.5, 28.0)
WALL_D = -1.0 / (6.0 - 0.012)

Written = tuple[float, float, int]


# what else is hidden; the right eye's sphere above is its stated one and the shift together
STATED_RIGHT_D, SHIFT_D = -2.74, -0.63
BECAUSE = "A whinchat in the lock house tells why."
HIDDEN = {
    "right": {"nuclear_shift_d": SHIFT_D, "best_logmar": 0.573, "straylight_log_s": 1.467},
    "right.zernike_um": {'"3,-1"': 0.173, '"4,0"': -0.219},
    "[right.opacity]": {"x_mm": -1.373, "y_mm": 0.837, "radius_mm": 0.671, "transmittance": 0.437},
    "left": {"best_logmar": 0.427, "straylight_log_s": 1.633},
    "eyes": {
        "amplitude_d": 5.837,
        "floor_d": 0.287,
        "latent_d": 0.767,
        "tonic_d": 1.309,
        "lag": 0.173,
        "individual": 4729,
    },
    "marking": {"eye_points": 17.313, "minutes": 26.719, "power_full_d": 0.419},
    "marking.procedure": {"axis": 0.639, "end-point": 4.517},
    "answer": {"prescribe": '"no"', "refer": '"same day"', "because": f'"{BECAUSE}"'},
}
DECOY = {
    "right": {"best_logmar": 0.3},
    "[left.opacity]": {"radius_mm": 1.1},
    "eyes": {"floor_d": 0.5, "tonic_d": 0.9},
    "marking": {"pd_points": 4.5, "pass_total": 80},
    "answer": {"refer": '"none"', "because": '"Quite another reason."'},
}


def canary_case() -> str:
    text = case_text(right="-2.74/-1.13x137", left="+2.61/-0.87x41", who="a lock keeper")
    return with_hidden(text, HIDDEN)


def decoy_case() -> str:
    """Return the same person with other eyes."""
    text = case_text(right="+0.93/-2.07x12", left="-6.61/-0.41x77", who="a lock keeper")
    return with_hidden(text, DECOY)


def with_hidden(text: str, hidden: dict[str, dict[str, object]]) -> str:
    """Return a case's text with keys added to its tables, or in tables of their own at the end."""
    for table, keys in hidden.items():
        lines = "".join(f"{key} = {value}\n" for key, value in keys.items())
        head = f"[{table}]\n"
        text = text.replace(head, head + lines) if head in text else f"{text}\n{head}{lines}"
    return text


def transposed(lens: Written) -> Written:
    sphere, cylinder, axis = lens
    return sphere + cylinder, -cylinder, (axis + 90) % 180 or 180


def vector(lens: Written) -> tuple[float, float, float]:
    sphere, cylinder, axis = lens
    double = math.radians(2 * axis)
    half = -cylinder / 2
    return sphere - half, half * math.cos(double), half * math.sin(double)


def moved(lens: Written, to_mm: float, incoming_d: float = 0.0) -> Written:
    """Return a lens at 12 mm as it is at another distance, each meridian by itself."""
    step_m = (12.0 - to_mm) / 1000.0
    first, second = (
        power / (1.0 - step_m * power)
        for power in (lens[0] + incoming_d, lens[0] + lens[1] + incoming_d)
    )
    return first, second - first, lens[2]


def forms_of(eye: Written) -> Iterator[Written]:
    """Yield an eye's lens as it is at other distances, and as the light that it lacks."""
    yield from (moved(eye, mm) for mm in VERTICES_MM)
    yield moved(eye, 0.0, WALL_D)


def powers_of(form: Written) -> Iterator[float]:
    """Yield every power in D that would give a lens away."""
    yield from form[:2]
    yield from transposed(form)[:2]
    yield from vector(form)


def of_power(power: float, *, with_sign: bool) -> Iterator[str]:
    """Yield patterns of a power: any minus sign, point or comma, two, three or all decimals.

    Two decimals that a length in a drawing may have too are looked for ``with_sign`` only.
    """
    whole, _, decimals = f"{abs(power):.3f}".partition(".")
    yield rf"(?<![\d.,]){whole}[.,]{decimals}(?!\d)"
    whole, _, decimals = f"{abs(power):.9f}".partition(".")
    yield rf"(?<![\d.,]){whole}[.,]{decimals[:4]}\d"
    text = f"{abs(power):.2f}"
    if abs(math.remainder(float(text), 0.25)) < 1e-9:
        return  # a trial lens may have that power
    whole, _, decimals = text.partition(".")
    optional = "0?" if whole == "0" else whole
    if with_sign or whole == "0":
        yield rf"[+−–-]\s?{optional}[.,]{decimals}(?!\d)"
    else:
        yield rf"(?<![\d.,]){whole}[.,]{decimals}(?!\d)"


def of_axis(axis: int) -> Iterator[str]:
    yield rf"[×x*@]\s?0*{axis}(?!\d)"
    yield rf"axis\W{{0,3}}0*{axis}(?!\d)"
    yield rf"(?<![\d.,])0*{axis}\s?°"
    yield rf"(?<![\w.,−-]){axis:03d}(?![\w.,-])"


def patterns() -> list[tuple[str, re.Pattern[str]]]:
    """Return all patterns, each with letters or digits that stand in whatever it matches."""
    found: set[str] = set()
    for eye in (RIGHT, LEFT):
        for power in powers_of(eye):
            found.update(of_power(power, with_sign=False))
        for form in forms_of(eye):
            for power in powers_of(form):
                found.update(of_power(power, with_sign=True))
    for _, _, axis in (RIGHT, LEFT, transposed(RIGHT), transposed(LEFT)):
        found.update(of_axis(axis))
    for table, keys in HIDDEN.items():
        for figure in keys.values() if table != "answer" else ():
            found.update(of_power(figure, with_sign=True))
    found.update(of_power(STATED_RIGHT_D, with_sign=False))
    found.add(rf"(?<![\w-]){HIDDEN['eyes']['individual']}(?![\w-])")
    found.update((rf"(?i){STEM}", rf"(?i){BECAUSE.split()[1]}"))
    return [
        (re.findall(r"[a-z]{5,}|\d{2,}", pattern)[-1], re.compile(pattern))
        for pattern in sorted(found)
    ]


PATTERNS = patterns()


def spellings(secret: bytes) -> set[str]:
    """Return what a secret looks like where it is printed."""
    plain, url_safe = base64.b64encode(secret), base64.urlsafe_b64encode(secret)
    ways = {
        secret.hex(),
        plain.decode(),
        plain.decode().rstrip("="),
        url_safe.decode(),
        url_safe.decode().rstrip("="),
        base64.b32encode(secret).decode().rstrip("="),
        str(int.from_bytes(secret, "big")),
        str(int.from_bytes(secret, "little")),
        str(list(secret)),
        repr(secret)[2:-1],
    }
    words = [secret[start : start + 4] for start in range(0, len(secret), 4)]
    ways |= {str(int.from_bytes(word, "big")) for word in words} - {"0"}
    return {way for way in ways if len(way) > 6}


def found_in(text: str, *secrets: bytes) -> list[str]:
    """Return every figure or secret of the canary that a text holds."""
    plain = html.unescape(text)
    lower = plain.lower()
    hits = [
        found[0]
        for digits, pattern in PATTERNS
        if digits in lower and (found := pattern.search(plain))  # most digits are not there at all
    ]
    hits += [way for secret in secrets for way in spellings(secret) if way.lower() in lower]
    return hits
