"""Twin eyes: alike in everything that may be known of them, unlike in what they need."""

import pytest

from server.case_file import CaseFile
from tests.sitting import ranged

NEEDS = {
    "first": ("-3.37/-1.13x137", "+2.61/-0.88x42"),
    "second": ("+2.61/-0.88x42", "-3.37/-1.13x137"),
}
STEM = "quillwort"


def twin_case() -> str:
    """Return the text of the case that the twins are drawn from."""
    return ranged(who="a lock keeper")


def draws_twin(patches: pytest.MonkeyPatch, name: str) -> None:
    """Let an exam draw this twin, whatever the dice say."""
    right, left = NEEDS[name]

    def drawn(file: CaseFile, _: object) -> CaseFile:
        eyes = {
            "right": file.right.model_copy(update={"need": right}),
            "left": file.left.model_copy(update={"need": left}),
        }
        return file.model_copy(update=eyes)

    patches.setattr("server.attempts.own_eyes.drawn", drawn)
