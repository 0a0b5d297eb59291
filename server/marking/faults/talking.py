"""Faults in asking: leading, never offering "the same", asking the same thing again and again."""

from collections import defaultdict
from collections.abc import Hashable, Iterator

from optics.patient.questions import PUT_IN_WAYS, Question
from optics.patient.traits import LEADING_SD, Manner
from server.marking.faults.fault import Evidence, Kind, Scene, Weight
from server.marking.looks import ONE_EYE_ALONE
from server.marking.steps import Step

LEAST_ASKED, TIMES = 4, 3

LEADING = Kind(
    key="leading-question",
    title="A question suggested its answer",
    weight=Weight.MINOR,
    part="talk",
    why="It moves an answer by {size:.1f} times what makes an ordinary person unsure.",
    instead="Ask which is clearer, first, second, or about the same, in one even breath.",
)
FORCED = Kind(
    key="same-not-offered",
    title="A choice was demanded in most questions",
    weight=Weight.MINOR,
    part="talk",
    why="In {size:.0f} questions nobody could say “the same”, which is how the end is known.",
    instead="Offer “about the same” with every pair.",
)
REPEATED = Kind(
    key="asked-again",
    title="The same comparison was asked more than three times",
    weight=Weight.MINOR,
    part="talk",
    why="Asked {size:.0f} times it tires the patient and tells no more than after the third.",
    instead="Swap the two once; if the answers differ, they look the same: go on.",
)


def _asked(scene: Scene) -> list[Step]:
    return [step for step in scene.steps if step.said is not None]


def _evidence(step: Step, words: str, size: float) -> Evidence:
    hand = step.state.hand
    return Evidence(
        number=step.number, side=hand.side.value if hand else "", words=words, size=size
    )


def leading(scene: Scene) -> Iterator[Evidence]:
    """Yield every question that suggested its answer."""
    for step in _asked(scene):
        if step.said and step.said.manner == Manner.LEADING:
            size = LEADING_SD * (1.0 + 2.0 * scene.case.traits.suggestible)
            yield _evidence(step, f"“{step.said.asked}”", size)


def forced(scene: Scene) -> Iterator[Evidence]:
    """Yield the questions that demanded a choice, if they are more than half of four or more."""
    put = [step for step in _asked(scene) if step.said and step.said.question in PUT_IN_WAYS]
    demanded = [step for step in put if step.said and step.said.manner == Manner.FORCED]
    if len(put) >= LEAST_ASKED and 2 * len(demanded) > len(put):
        for step in demanded:
            yield _evidence(step, "A choice was demanded.", float(len(demanded)))


def repeated(scene: Scene) -> Iterator[Evidence]:
    """Yield the last of each comparison that was asked more than three times unchanged."""
    same: dict[Hashable, list[Step]] = defaultdict(list)
    for step in _asked(scene):
        if step.said and step.said.question in ONE_EYE_ALONE:
            same[_what(step)].append(step)
    for steps in same.values():
        if len(steps) > TIMES:
            yield _evidence(steps[-1], f"Asked {len(steps)} times.", float(len(steps)))


def _what(step: Step) -> Hashable:
    state, hand, said = step.state, step.state.hand, step.said
    question = said.question if said else ""
    held = None
    if hand is not None:
        held = (hand.tool, hand.side, hand.power_d, round(hand.handle_deg(state.frame), 1))
    wall = state.wall
    about = None if question == Question.WHICH else state.before
    frame = frozenset(state.frame.fitted)
    return (question, frame, about, held, wall.view, wall.line_logmar, wall.block_deg, wall.lit)
