"""The start page and the pages of words, made ready to be shown."""

from collections.abc import Sequence

from server.attempts.service import Attempt
from server.casebook import Case, Casebook
from server.web.contexts_circuit import CircuitStart
from server.web.contexts_pages import CaseCard, HomePage, PastAttempt, TextPage
from server.web.contexts_parts import Option
from server.web.notation import Notation

LEVELS = {
    1: "One thing to find",
    2: "Astigmatism, and traps for the hasty",
    3: "Unequal eyes, eyes that hold on, answers that mislead",
    4: "Several things at once, strong lenses, and when to send on",
}
TITLES = {"help": "Help and glossary"}


def home_page(
    casebook: Casebook,
    past: Sequence[Attempt],
    circuits: CircuitStart,
    notation: Notation,
    client_key: str,
) -> HomePage:
    """Return the start page of a browser with its past attempts."""
    cases = sorted(casebook.cases.values(), key=lambda case: (case.level, case.public_id))
    return HomePage(
        first_id=next((case.public_id for case in cases if case.first), ""),
        levels=tuple(
            (level, words, tuple(_case_card(case) for case in cases if case.level == level))
            for level, words in LEVELS.items()
            if any(case.level == level for case in cases)
        ),
        unfinished=tuple(_past(one) for one in past if not one.state.finished),
        finished=tuple(_past(one) for one in past if one.state.finished),
        circuits=circuits,
        acuity_forms=_options(
            notation.acuity,
            {"6": "6/6", "20": "20/20", "decimal": "1.0", "logmar": "logMAR"},
        ),
        cylinder_forms=_options(notation.cylinder, {"minus": "minus", "plus": "plus"}),
        client_key=client_key,
        broken=len({fault.file for fault in casebook.faults}),
    )


def _options(chosen: str, labels: dict[str, str]) -> tuple[Option, ...]:
    return tuple(
        Option(value=value, label=label, chosen=value == chosen) for value, label in labels.items()
    )


def _case_card(case: Case) -> CaseCard:
    return CaseCard(
        public_id=case.public_id,
        age=case.age_y,
        who=case.who,
        complaint=case.complaint,
    )


def _past(attempt: Attempt) -> PastAttempt:
    return PastAttempt(
        attempt_id=attempt.row.id,
        who=f"{attempt.case.who}, {attempt.case.age_y}",
        mode="a copy" if attempt.state.copied_from else attempt.state.mode,
        begun=attempt.row.created_at.strftime("%d %b %H:%M"),
        questions=len(attempt.state.talk),
    )


def words_page(name: str) -> TextPage:
    """Return a page of words."""
    return TextPage(title=TITLES[name], name=name)
