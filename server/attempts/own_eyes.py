"""Eyes that an exam draws for itself: made once, kept a while, rebuilt from an attempt's log."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from server.attempts.chance import stream
from server.case_eyes import UnfitError
from server.case_file import CaseFile
from server.case_range import drawn
from server.casebook import Case, Casebook, case_of
from server.errors import NotFound
from server.store.log import AttemptRow, Event

EXAM = "exam"  # the mode; begun by a circuit only
CASES_KNOWN = 128
TRIES = 12

Body = Mapping[str, Any]


def drawn_case(case: Case, seed: bytes) -> Case:
    """Return the same person with eyes drawn from the case's ranges by a secret.

    The same secret draws the same eyes. What the optics does not allow is drawn again.

    Raises
    ------
    UnfitError
        If nothing that is drawn can be an eye.
    """
    for number in range(TRIES):
        try:
            return case_in(case.stem, written(drawn(case.file, stream(seed, "eyes", number))))
        except UnfitError as fault:
            unfit = fault
    raise unfit


def written(file: CaseFile) -> dict[str, Any]:
    """Return a case's file as a log keeps it, what is not stated included."""
    return file.model_dump(mode="json")


def case_for(casebook: Casebook, row: AttemptRow, events: Sequence[Event]) -> Case:
    """Return an attempt's case: with the eyes that its log names, else as the book has it.

    Raises
    ------
    NotFound
        If there is neither.
    """
    if events and "case" in events[0].body:
        return case_in(row.case_id, events[0].body["case"])
    case = None if row.mode == EXAM else casebook.cases.get(row.case_id)
    if case is None:
        raise NotFound
    return case


def case_in(stem: str, body: Body) -> Case:
    """Return the case that a log keeps."""
    return _case(stem, json.dumps(body, sort_keys=True))


@lru_cache(maxsize=CASES_KNOWN)
def _case(stem: str, text: str) -> Case:
    digest = hashlib.sha256(text.encode()).hexdigest()
    return case_of(stem, digest, CaseFile.model_validate_json(text))
