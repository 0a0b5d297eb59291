"""By which rubric a case is marked: the usual one with the case's own weights laid over it."""

from typing import Any

from server.case_eyes import UnfitError
from server.case_file import CaseFile
from server.errors import Refused
from server.marking.rubric import RUBRIC, Rubric


def rubric_of(file: CaseFile, usual: Rubric = RUBRIC) -> Rubric:
    """Return the rubric of a case; where it has none of its own, the usual one.

    Raises
    ------
    UnfitError
        If values do not go together.
    """
    if file.marking is None:
        return usual
    stated: dict[str, Any] = {name: value for name, value in file.marking if value is not None}
    stated["procedure"] = dict(usual.procedure) | stated["procedure"]
    if "minutes" in stated:
        at = file.level - 1
        stated["minutes"] = (*usual.minutes[:at], stated["minutes"], *usual.minutes[at + 1 :])
    try:
        return usual.weighed_anew(stated)
    except Refused as fault:
        raise UnfitError(("marking", fault.field), str(fault)) from None
