"""The engine's command line: see, picture, check.

``python -m optics see --side R --eye "-2.00/-1.00x30" --frame "1:-2.00 3:-1.00x30"``
``python -m optics picture --eye "-2.00" --line 6/12 --out view.png``
``python -m optics check``

The words of ``--eye`` and ``--frame`` are given as EBNF in ``optics.grammar``. A fault exits
2 with one line that says what was not understood.
"""

import argparse
import json
import math
import re
import sys
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import NoReturn

from optics.errors import NotationError, OpticsError
from optics.grammar import parse_frame
from optics.light.frame import TrialFrame
from optics.light.lens import EyeSide
from optics.light.notation import parse_prescription, prescription_text
from optics.report import Sitting, see_report
from optics.sight.canvas import canvas_for
from optics.sight.targets import CHART_LINES_LOGMAR, Row
from optics.validation.table import run_table

PICTURE_LETTERS = "DHNKC"


class _Parser(argparse.ArgumentParser):
    """Argument parser whose faults are one line."""

    def error(self, message: str) -> NoReturn:
        raise NotationError(message)


def main(words: Sequence[str] | None = None) -> int:
    """Run a command; return 0, or 2 after a fault, or 1 if a check failed."""
    try:
        arguments = _parser().parse_args(_joined(sys.argv[1:] if words is None else words))
        return int(arguments.run(arguments))
    except OpticsError as fault:
        print("python -m optics:", *str(fault).split(), file=sys.stderr)  # one line, always
        return 2


def _joined(words: Sequence[str]) -> list[str]:
    """Return the words with ``--eye -2.00`` as one: what starts with a minus is no option."""
    joined: list[str] = []
    for word in words:
        if joined and joined[-1] in ("--eye", "--frame", "--decentre"):
            joined[-1] += f"={word}"
        else:
            joined.append(word)
    return joined


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="python -m optics", description="What an eye behind lenses sees.")
    commands = parser.add_subparsers(required=True, metavar="see | picture | check")
    see = commands.add_parser("see", help="what one eye sees through a trial frame")
    picture = commands.add_parser("picture", help="one line of letters as the eye forms it")
    for command in (see, picture):
        _sitting_arguments(command)
    see.add_argument("--json", action="store_true", help="print JSON")
    see.set_defaults(run=_see)
    picture.add_argument("--line", default="6/12", help="the line shown (6/12)")
    picture.add_argument("--out", required=True, help="the PNG file to write")
    picture.set_defaults(run=_picture)
    check = commands.add_parser("check", help="published values beside ours")
    check.set_defaults(run=lambda _: run_table(partial(print, flush=True)))
    return parser


def _sitting_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("--side", choices=[side.value for side in EyeSide], default="R")
    command.add_argument("--eye", default="plano", help="the correcting lens (plano)")
    command.add_argument("--eye-vertex", default="12", help="its distance in mm (12); 0 = cornea")
    command.add_argument("--eye-distance", default="6", help="the object it is for, m or inf (6)")
    command.add_argument("--pupil", help="diameter in mm (by formula)")
    command.add_argument("--age", default="30", help="years (30)")
    command.add_argument("--frame", default="", help="lenses as CELL:LENS (none)")
    command.add_argument("--tilt", default="0", help="of the frame, lower edge in, degrees (0)")
    command.add_argument("--wrap", default="0", help="face form, outer edges back, degrees (0)")
    command.add_argument(
        "--decentre", default="0,0", help="X,Y from pupil to lens centre, mm (0,0)"
    )
    command.add_argument("--distance", default="6", help="of the chart, m or inf (6)")
    command.add_argument("--cycloplegia", action="store_true", help="no accommodation")
    command.add_argument("--aberrations", choices=["average", "none"], default="average")


def _number(name: str, text: str, least: float, most: float) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not least <= value <= most:
        raise NotationError(f"--{name} must be {least:g} to {most:g}, got {text[:40]!r}")
    return value


def _sitting(arguments: argparse.Namespace) -> Sitting:
    side = EyeSide(arguments.side)
    pupil = arguments.pupil
    return Sitting(
        side=side,
        need=parse_prescription(arguments.eye),
        need_vertex_mm=_number("eye-vertex", arguments.eye_vertex, 0, 30),
        need_distance_m=_number("eye-distance", arguments.eye_distance, 0.1, math.inf),
        pupil_mm=None if pupil is None else _number("pupil", pupil, 1, 9),
        age_y=_number("age", arguments.age, 5, 100),
        cycloplegia=arguments.cycloplegia,
        average=arguments.aberrations == "average",
        frame=_frame(arguments, side),
        distance_m=_number("distance", arguments.distance, 0.1, math.inf),
    )


def _frame(arguments: argparse.Namespace, side: EyeSide) -> TrialFrame:
    x_text, comma, y_text = arguments.decentre.partition(",")
    if not comma:
        raise NotationError(f"--decentre must be X,Y in mm, got {arguments.decentre[:40]!r}")
    centre_mm = (_number("decentre", x_text, -15, 15), _number("decentre", y_text, -15, 15))
    return replace(
        parse_frame(arguments.frame, side),
        centre_right_mm=centre_mm,
        centre_left_mm=centre_mm,
        tilt_deg=_number("tilt", arguments.tilt, -30, 30),
        wrap_deg=_number("wrap", arguments.wrap, -30, 30),
    )


def _conditions(sitting: Sitting, arguments: argparse.Namespace) -> dict[str, object]:
    return {
        "side": sitting.side.value,
        "eye": prescription_text(sitting.need),
        "eye_vertex_mm": sitting.need_vertex_mm,
        "eye_distance_m": _finite(sitting.need_distance_m),
        "pupil": "by formula" if sitting.pupil_mm is None else "fixed",
        "age_y": sitting.age_y,
        "cycloplegia": sitting.cycloplegia,
        "aberrations": arguments.aberrations,
        "frame": arguments.frame or "empty",
        "tilt_deg": sitting.frame.tilt_deg,
        "wrap_deg": sitting.frame.wrap_deg,
        "decentre_mm": list(sitting.frame.centre_mm(sitting.side)),
        "distance_m": _finite(sitting.distance_m),
    }


def _finite(value: float) -> float | str:
    return value if math.isfinite(value) else "inf"


def _see(arguments: argparse.Namespace) -> int:
    sitting = _sitting(arguments)
    report = see_report(sitting) | {"conditions": _conditions(sitting, arguments)}
    if arguments.json:
        print(json.dumps(report, ensure_ascii=False, allow_nan=False))
        return 0
    for name, value in report.items():
        shown = (
            "  ".join(f"{part} {number}" for part, number in value.items())
            if isinstance(value, dict)
            else value
        )
        print(f"{name:16} {shown}")
    return 0


def _picture(arguments: argparse.Namespace) -> int:
    from PIL import Image

    sitting = _sitting(arguments)
    match = re.fullmatch(r"6/(\d{1,3}(?:\.\d)?)", arguments.line)
    if match is None or float(match[1]) <= 0:
        raise NotationError(f"--line must be 6/x, got {arguments.line[:40]!r}")
    exact = math.log10(float(match[1]) / 6.0)
    size = min(CHART_LINES_LOGMAR, key=lambda line: abs(line - exact))
    rows = (Row(size_logmar=size, letters=PICTURE_LETTERS),)
    picture = sitting.view().eye(sitting.side).picture(rows, canvas_for(rows))
    try:
        Image.fromarray(picture).save(Path(arguments.out), format="PNG")
    except OSError as fault:
        raise NotationError(f"--out {arguments.out[:80]!r} cannot be written: {fault}") from None
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
