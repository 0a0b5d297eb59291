"""The small language of the command line: an eye and a trial frame in words.

EBNF::

    eye    = sphere [ "/" cylinder "x" axis ] ;            (as a prescription is written)
    frame  = [ item { " " item } ] ;
    item   = cell ":" lens ;
    cell   = "1" | "2" | "3" | "4" | "hand" ;
    lens   = sphere | cylinder | "plano" | "occluder" | prism | pinhole | slit | cross
           | "red" | "green" | rod | neutral ;
    sphere   = sign number ;
    cylinder = sign number "x" axis ;
    prism    = "prism" number "@" base ;                   (base: 1 to 360)
    pinhole  = "pinhole" number ;                          (diameter in mm)
    slit     = "slit" "@" axis ;
    cross    = "cross" number "@" axis ;                   (minus axis)
    rod      = "rod" "@" axis ;                            (along the grooves)
    neutral  = "neutral" [ number ] ;                      (density, 0.6 if none is given)
    axis     = whole number 1 to 180 ;  sign = "+" | "-" ; number = digits [ "." digits ] ;

Directions are always TABO. Powers that no set holds are allowed here.
"""

import re

from optics.errors import NotationError, OpticsError
from optics.light.frame import Place, TrialFrame
from optics.light.lens import NEUTRAL_DENSITY, EyeSide, LensKind, PlacedLens, TrialLens

_NUMBER = r"(\d{1,2}(?:\.\d{1,3})?)"
PLAIN_WORDS = (
    *(LensKind.OCCLUDER, LensKind.PLANO),
    *(LensKind.RED, LensKind.GREEN, LensKind.NEUTRAL),
)
_FORMS = (
    (re.compile(rf"([+-]{_NUMBER})"), LensKind.SPHERE),
    (re.compile(rf"([+-]{_NUMBER})x(\d{{1,3}})"), LensKind.CYLINDER),
    (re.compile(rf"prism{_NUMBER}@(\d{{1,3}})"), LensKind.PRISM),
    (re.compile(rf"cross{_NUMBER}@(\d{{1,3}})"), LensKind.CROSS_CYLINDER),
    (re.compile(rf"pinhole{_NUMBER}"), LensKind.PINHOLE),
    (re.compile(r"slit@(\d{1,3})"), LensKind.SLIT),
    (re.compile(r"rod@(\d{1,3})"), LensKind.ROD),
    (re.compile(rf"neutral{_NUMBER}"), LensKind.NEUTRAL),
    *((re.compile(kind.value), kind) for kind in PLAIN_WORDS),
)


def parse_frame(text: str, side: EyeSide) -> TrialFrame:
    """Return the trial frame that the words describe before one eye.

    Raises
    ------
    NotationError
        Naming the item that was not understood.
    """
    frame = TrialFrame()
    for item in text.split():
        cell, colon, lens = item.partition(":")
        if not colon or cell not in {place.value for place in Place}:
            raise NotationError(f"not understood in the frame: {item[:40]!r}; write CELL:LENS")
        try:
            frame = frame.with_lens(side, Place(cell), parse_lens(lens))
        except OpticsError as fault:
            raise NotationError(f"not understood in the frame: {item[:40]!r}; {fault}") from None
    return frame


def parse_lens(word: str) -> PlacedLens:
    """Return the lens that one word describes."""
    for form, kind in _FORMS:
        match = form.fullmatch(word)
        if match is None:
            continue
        numbers = [float(number) for number in match.groups()]
        if kind in (LensKind.SPHERE, LensKind.CYLINDER):
            del numbers[1]  # the number without its sign
        return _placed(kind, numbers)
    raise NotationError(f"{word[:40]!r} is no lens")


def _placed(kind: LensKind, numbers: list[float]) -> PlacedLens:
    """Return a lens of a kind from the numbers of its word, in the order written."""
    if kind is LensKind.PINHOLE:
        return PlacedLens(lens=TrialLens(kind=kind, aperture_mm=numbers[0]))
    if kind in (LensKind.SLIT, LensKind.ROD):
        return PlacedLens(lens=TrialLens(kind=kind), direction_deg=numbers[0])
    if kind is LensKind.NEUTRAL:
        density = numbers[0] if numbers else NEUTRAL_DENSITY
        return PlacedLens(lens=TrialLens(kind=kind, density=density))
    if not numbers:
        return PlacedLens(lens=TrialLens(kind=kind))
    if kind is LensKind.SPHERE and numbers[0] == 0.0:
        return PlacedLens(lens=TrialLens(kind=LensKind.PLANO))
    lens = TrialLens(kind=kind, power_d=numbers[0])
    return PlacedLens(lens=lens, direction_deg=numbers[1] if len(numbers) > 1 else 180.0)
