"""The record card made ready to be shown."""

from optics.light.notation import parse_prescription
from server.attempts.cards import FIELDS
from server.attempts.service import Attempt
from server.web.contexts import (
    Card,
    CardField,
    CardRow,
    SavedField,
)
from server.web.contexts_parts import Option
from server.web.notation import Notation

EXAMPLE_LOGMAR = 0.1  # how an acuity is written, shown in empty fields
COLUMNS = (
    ("unaided", "unaided", "e.g. {acuity}"),
    ("pinhole", "pinhole", "e.g. {acuity}"),
    ("sphere", "sphere", "± D"),
    ("cylinder", "cylinder", "± D"),
    ("axis", "axis", "1–180"),
    ("acuity", "acuity", "e.g. {acuity}"),
    ("add", "near add", "+ D"),
    ("prism", "prism", "Δ, base"),
    ("pd", "half PD", "mm"),
)
START_LABELS = {
    "objective_right": "Objective result, right",
    "objective_left": "Objective result, left",
    "worn_right": "Spectacles worn, right",
    "worn_left": "Spectacles worn, left",
}


def card(attempt: Attempt, notation: Notation) -> Card:
    """Return the record card as it stands."""
    record = attempt.state.record
    acuity = notation.acuity_text(EXAMPLE_LOGMAR)
    return Card(
        attempt_id=attempt.row.id,
        rows=tuple(
            CardRow(
                name=eye.capitalize(),
                fields=tuple(
                    card_field(attempt, f"{eye}_{name}", label, hint.format(acuity=acuity))
                    for name, label, hint in COLUMNS
                ),
            )
            for eye in ("right", "left")
        ),
        shared=(
            card_field(attempt, "vertex", "vertex distance", "mm"),
            card_field(attempt, "binocular_acuity", "both eyes", f"e.g. {acuity}"),
            card_field(attempt, "comments", "comments", "what you saw and advised"),
        ),
        prescribe=_options(record.get("prescribe", ""), "yes", "no"),
        refer=_options(record.get("refer", ""), "none", "routine", "urgent", "same day"),
        start=tuple(
            (START_LABELS[name], notation.lens_text(parse_prescription(text)))
            for name, text in attempt.case.start.items()
        ),
    )


def _options(chosen: str, *values: str) -> tuple[Option, ...]:
    return tuple(Option(value=value, label=value, chosen=value == chosen) for value in values)


def card_field(attempt: Attempt, name: str, label: str, hint: str) -> CardField:
    """Return one field with what was last written in it."""
    value = attempt.state.record.get(name, "")
    return CardField(name=name, label=label, value=value, hint=hint)


def saved_field(name: str, value: str) -> SavedField:
    """Return the answer to a field that was written: how the card keeps it."""
    label = FIELDS[name][0]
    words = f"{label} {value} saved" if value else f"{label} cleared"
    return SavedField(name=name, value=value, words=words.capitalize())
