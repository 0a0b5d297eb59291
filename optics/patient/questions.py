"""What can be asked of a person at the wall, by name."""

from enum import StrEnum


class Question(StrEnum):
    """A question; each has a closed set of replies."""

    READ_DOWN = "read-down"
    READ_LINE = "read-line"
    WHICH = "which"
    BETTER = "better"
    SMALLER = "smaller"
    MORE = "more"
    LINES = "lines"
    BLOCKS = "blocks"
    COLOUR = "colour"
    DOUBLED = "doubled"
    WAIT = "wait"
    NEARER = "nearer"


READING = (Question.READ_DOWN, Question.READ_LINE)
# those whose answer can be suggested, or a choice demanded
PUT_IN_WAYS = (Question.WHICH, Question.BETTER, Question.SMALLER, Question.BLOCKS, Question.COLOUR)
