"""How questions are put, and how the patient says each reply: words vary, meaning never."""

import random
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from optics.patient.compare import Answer
from optics.patient.lines import EQUAL, UNSEEN
from optics.patient.questions import Question
from optics.patient.traits import Manner
from server.attempts.chance import drawn, stream

ASKED: Mapping[Question, str] = {
    Question.READ_DOWN: "Read down as far as you can.",
    Question.READ_LINE: "Can you read this line?",
    Question.WHICH: "Which is clearer, first, second, or about the same?",
    Question.BETTER: "Is it better, worse or the same with this?",
    Question.SMALLER: "Is it clearer, or only smaller and darker?",
    Question.MORE: "Can you read more letters, fewer, or the same?",
    Question.LINES: "Which lines are blackest, or are all alike?",
    Question.BLOCKS: "Are the two blocks equally black, or is A or B blacker?",
    Question.COLOUR: "Are the letters clearer on the red, on the green, or the same?",
    Question.DOUBLED: "Is it single, or is it doubled or ghosted?",
    Question.WAIT: "Wait a moment. Does it clear?",
    Question.NEARER: "Come nearer: when can you read the top letter, or count my fingers?",
}
SHORT: Mapping[Question, str] = {
    Question.READ_DOWN: "Read down",
    Question.READ_LINE: "Read this",
    Question.WHICH: "Which is clearer?",
    Question.BETTER: "Better or worse?",
    Question.SMALLER: "Clearer or smaller?",
    Question.MORE: "More letters?",
    Question.LINES: "Blackest lines?",
    Question.BLOCKS: "Blocks equal?",
    Question.COLOUR: "Red or green?",
    Question.DOUBLED: "Doubled?",
    Question.WAIT: "Clears on waiting?",
    Question.NEARER: "Come nearer",
}
OTHERWISE: Mapping[Manner, Mapping[Question, str]] = {
    Manner.FORCED: {
        Question.WHICH: "Which is clearer, first or second?",
        Question.BETTER: "Is it better or worse with this?",
        Question.SMALLER: "Is it clearer or worse?",
        Question.BLOCKS: "Which block is blacker, A or B?",
        Question.COLOUR: "Are the letters clearer on the red or on the green?",
    },
    Manner.LEADING: {
        Question.WHICH: "The second is clearer, isn't it?",
        Question.BETTER: "That's better, isn't it?",
        Question.SMALLER: "That's clearer, isn't it?",
        Question.BLOCKS: "B is blacker, isn't it?",
        Question.COLOUR: "Clearer on the green, isn't it?",
    },
}
_SAYS: Mapping[Question, Mapping[str, tuple[str, ...]]] = {
    Question.WHICH: {
        "first": ("The first.", "First one.", "I'd say the first."),
        "second": ("The second.", "Second one.", "I'd say the second."),
        "same": ("About the same.", "I can't tell them apart.", "Both alike."),
    },
    Question.BETTER: {
        "better": ("Better.", "Yes, that's better."),
        "worse": ("Worse.", "No, that's worse."),
        "same": ("The same.", "No difference.", "About the same."),
    },
    Question.SMALLER: {
        "clearer": ("Clearer.", "Yes, it's clearer."),
        "smaller-darker": ("Only smaller and darker.", "Darker and a bit smaller, not clearer."),
        "worse": ("Worse.", "It's less clear."),
        "same": ("I see no difference.", "The same as before."),
    },
    Question.MORE: {
        "more": ("Yes, I can read more.", "More letters now."),
        "fewer": ("Fewer than before.", "No, I've lost some."),
        "same": ("The same ones.", "No more than before."),
    },
    Question.BLOCKS: {
        "first": ("A is blacker.", "The lines of A stand out."),
        "second": ("B is blacker.", "The lines of B stand out."),
        "same": ("Both alike.", "They are equal."),
        UNSEEN: ("It is all dark.",),
    },
    Question.COLOUR: {
        "red": ("On the red.", "The red side is clearer."),
        "green": ("On the green.", "The green side is clearer."),
        "same": ("About the same on both.", "No difference between the two."),
        UNSEEN: ("It is all dark.",),
    },
    Question.DOUBLED: {
        "single": ("It's single.", "Just one."),
        "doubled": ("There's a ghost beside it.", "It looks doubled."),
        UNSEEN: ("It is all dark.",),
    },
    Question.WAIT: {
        "clears": ("Yes, it comes clearer as I wait.", "It's slowly clearing."),
        "stays": ("No, it stays as it is.", "It doesn't change."),
    },
    Question.NEARER: {
        **{
            f"top-{metres}": (f"I can read the top letter from {metres} m.",)
            for metres in ("6", "3", "2", "1")
        },
        "fingers-1": ("I can count your fingers at 1 m.",),
        "fingers-0.5": ("I can count your fingers at half a metre.",),
        "hand": ("I can see your hand move.",),
        "light": ("I can only see that there is light.",),
        "no-light": ("It is all dark.",),
    },
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Put:
    """A question and how it is put; ``start_logmar`` is the line at which reading begins."""

    question: Question
    manner: Manner = Manner.OFFERED
    start_logmar: float | None = None


def asked_words(put: Put) -> str:
    """Return how a question is put."""
    if put.start_logmar is not None:
        return f"Read from the {acuity_mark(put.start_logmar)} line down."
    return OTHERWISE.get(put.manner, {}).get(put.question, ASKED[put.question])


def acuity_mark(acuity_logmar: float) -> str:
    """Return an acuity as it stands in kept words, to be written in the reader's notation."""
    return f"[{acuity_logmar:.3f} logMAR]"


def answered(seed: bytes, number: int, question: Question, answer: Answer) -> dict[str, Any]:
    """Return one reply drawn from its chances, how it is said, and the numbers behind it."""
    codes = tuple(answer.chances)
    code = codes[drawn(stream(seed, "noise", number), tuple(answer.chances.values()))]
    words = said_words(question, code, stream(seed, "words", number))
    facts = {name: round(value, 4) for name, value in answer.facts.items()}
    return {"code": code, "reply": words, "facts": facts}


def said_words(question: Question, reply: str, dice: random.Random) -> str:
    """Return how a reply is said, one of several ways."""
    if question is Question.LINES:
        return _lines_words(reply)
    return dice.choice(_SAYS[question][reply])


def _lines_words(reply: str) -> str:
    if reply == EQUAL:
        return "They all look alike."
    if reply == UNSEEN:
        return "It is all dark."
    lower = float(reply)
    return f"The one from {_hour(lower)} to {_hour(lower + 6.0)} is blackest."


def _hour(hour: float) -> str:
    whole = int(hour) or 12
    return f"half past {whole}" if hour % 1.0 else f"{whole}"
