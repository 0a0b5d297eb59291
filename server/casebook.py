"""The casebook: one TOML file a case, read and checked once; the only reader of ``cases/``.

A fault names the file, the line and the field. A broken file is left out; the others serve.
"""

import hashlib
import re
import secrets
import tomllib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from optics.eye.eye import EyePair
from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder
from optics.patient.traits import Traits
from server.case_eyes import UnfitError, eyes_of, needs_of
from server.case_file import AnswerPart, CaseFile
from server.case_marking import rubric_of
from server.marking.rubric import Rubric

LARGEST_FILE = 64 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One patient. What is hidden never shows in a repr."""

    stem: str
    public_id: str
    digest: str
    level: int
    first: bool
    age_y: int
    who: str
    complaint: str
    history: Mapping[str, str]
    start: Mapping[str, str]
    pd_mm: tuple[float, float]
    need_vertex_mm: float
    need_distance_m: float
    answer: AnswerPart | None = field(repr=False)
    traits: Traits = field(repr=False)
    rubric: Rubric = field(repr=False)
    file: CaseFile = field(repr=False)
    needs: Mapping[EyeSide, SpheroCylinder] = field(repr=False)
    eyes: EyePair = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseFault:
    """What is wrong with a case file, and where."""

    file: str
    line: int
    field: str
    message: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.field}: {self.message}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Casebook:
    """Every case that could be read, by stem, and the faults of those that could not."""

    cases: Mapping[str, Case]
    faults: tuple[CaseFault, ...]

    def named(self, name: str) -> Case | None:
        """Return the case of a public id, or one at random for ``random:LEVEL``."""
        if not name.startswith("random:"):
            return self.by_public_id(name)
        of_level = [case for case in self.cases.values() if f"random:{case.level}" == name]
        return secrets.choice(of_level) if of_level else None

    def by_public_id(self, public_id: str) -> Case | None:
        """Return the case that pages know by that id."""
        return next((case for case in self.cases.values() if case.public_id == public_id), None)


def read_casebook(folder: Path) -> Casebook:
    """Return all cases of a folder, and what is wrong with the others."""
    cases: dict[str, Case] = {}
    faults: list[CaseFault] = []
    for path in sorted(folder.glob("*.toml")):
        read = read_case(path)
        if isinstance(read, Case):
            cases[read.stem] = read
        else:
            faults.extend(read)
    return Casebook(cases=cases, faults=tuple(faults))


def read_case(path: Path) -> Case | tuple[CaseFault, ...]:
    """Return the case of a file, or its faults."""
    try:
        raw = path.read_bytes()
        if len(raw) > LARGEST_FILE:
            return (_fault(path, 1, "file", f"larger than {LARGEST_FILE} bytes"),)
        text = raw.decode("utf-8")
        table = tomllib.loads(text)
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        return (_fault(path, line, "file", "is not UTF-8 text"),)
    except (ValueError, RecursionError) as fault:  # ValueError: TOML, or a number beyond reading
        return (_fault(path, _line_in(str(fault)), "file", f"is not TOML: {fault}"),)
    except OSError as fault:
        return (_fault(path, 1, "file", f"cannot be read: {fault.strerror}"),)
    try:
        return case_of(path.stem, hashlib.sha256(raw).hexdigest(), CaseFile.model_validate(table))
    except ValidationError as faults:
        return tuple(
            _fault(path, _line_of(text, one["loc"]), ".".join(map(str, one["loc"])), _said(one))
            for one in faults.errors()
        )
    except UnfitError as unfit:
        return (_fault(path, _line_of(text, unfit.place), ".".join(unfit.place), str(unfit)),)


def _fault(path: Path, line: int, name: str, message: str) -> CaseFault:
    return CaseFault(file=path.name, line=line, field=name, message=message)


def _said(one: Any) -> str:
    shown = "" if one["type"] == "missing" else f"; got {_came(one.get('input'))}"
    return f"{one['msg'].removeprefix('Value error, ')}{shown}"


def _came(value: Any) -> str:
    try:
        return repr(value)[:60]
    except (ValueError, RecursionError):  # a number too long, a table too deep to write out
        return f"a {type(value).__name__} beyond measure"


def _line_in(message: str) -> int:
    found = re.search(r"line (\d+)", message)
    return int(found[1]) if found else 1


HEAD = re.compile(r"\s*(\[\[?)\s*([\w.-]+)\s*\]")
KEY = re.compile(r"\s*(?:\"([^\"]*)\"|([\w-]+))\s*=")


def _line_of(text: str, place: tuple[Any, ...]) -> int:
    """Return the line of a field in TOML text: its key, else what it stands in, else the first."""
    wanted = [str(part) for part in place]
    table: list[str] = []
    nearest, found, begun = 0, 1, Counter[str]()
    for number, line in enumerate(text.splitlines(), 1):
        if head := HEAD.match(line):
            path = table = head[2].split(".")
            if head[1] == "[[":  # one of several tables of that name, counted from 0
                table.append(str(begun[head[2]]))
                begun[head[2]] += 1
        elif key := KEY.match(line):
            path = [*table, key[1] or key[2]]
        else:
            continue
        if len(path) > nearest and path == wanted[: len(path)]:
            nearest, found = len(path), number
    return found


def case_of(stem: str, digest: str, file: CaseFile) -> Case:
    """Return the case that a file states.

    Raises
    ------
    UnfitError
        If a stated value lies beyond what the eyes can be, or weights do not go together.
    """
    return Case(
        stem=stem,
        public_id=hashlib.sha256(f"case {stem}".encode()).hexdigest()[:12],
        digest=digest,
        level=file.level,
        first=file.first,
        age_y=file.person.age,
        who=file.person.who,
        complaint=file.person.complaint,
        history=dict(file.history),
        start={name: text for name, text in file.start if text is not None},
        pd_mm=(file.right.pd_mm, file.left.pd_mm),
        need_vertex_mm=file.eyes.need_vertex_mm,
        need_distance_m=file.eyes.need_distance_m,
        answer=file.answer,
        traits=Traits(**dict(file.traits)),
        rubric=rubric_of(file),
        file=file,
        needs=needs_of(file),
        eyes=eyes_of(file),
    )
