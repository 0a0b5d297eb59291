"""Faults around the first lens: acuity not taken, the other eye open, the pinhole misjudged."""

import math
from collections.abc import Iterator

from optics.light.frame import SIDE_NAMES
from optics.patient.questions import Question
from server.marking.faults.fault import Evidence, Kind, Scene, Weight, at_look, at_step
from server.marking.looks import ONE_EYE_ALONE, EyeWork, Look
from server.marking.rubric import just_noticeable_d

PINHOLE_FROM_LOGMAR = 0.2  # worse than about 6/9
FOGGED_D = 0.75

UNAIDED = Kind(
    key="no-unaided-acuity",
    title="An eye got its first lens before its own acuity was taken",
    weight=Weight.MAJOR,
    why="Without it nobody knows how many lines were won, nor that {size:.2f} D was missing.",
    instead="Cover the other eye and let each eye read down before any lens.",
)
OTHER_OPEN = Kind(
    key="other-eye-open",
    title="An eye was examined while the other one could see",
    weight=Weight.MAJOR,
    why="The better eye answers: the other was only {size:.2f} D from clear.",
    instead="Put the occluder before the other eye, or fog it by 0.75 D or more.",
)
NO_PINHOLE = Kind(
    key="pinhole-skipped",
    title="An eye read worse than 6/9 and was never asked through the pinhole",
    weight=Weight.MAJOR,
    why="{size:.1f} lines were missing, and only a pinhole tells blur from a sick eye at once.",
    instead="Hold the pinhole before every eye worse than 6/9, at the start and at the end.",
)
SOLE_GROUND = Kind(
    key="pinhole-alone",
    title="The pinhole alone decided that no lens would help",
    weight=Weight.MINOR,
    why="{size:.2f} D lay before that eye, which a dim pinhole can hide.",
    instead="Try a lens of about one just noticeable step each way before you say that none helps.",
)


def no_unaided(scene: Scene) -> Iterator[Evidence]:
    """Yield the first lens of each eye that had not read alone and bare."""
    for work in scene.worked:
        first = work.first_lens
        if first is not None and not work.unaided:
            before = scene.steps[max(scene.steps.index(first) - 1, 0)]
            error = before.in_frame[work.side]
            size = 0.0 if error is None else abs(error[0])
            yield at_step(
                first, work.side, f"The first lens of the {SIDE_NAMES[work.side]} eye.", size
            )


def other_open(scene: Scene) -> Iterator[Evidence]:
    """Yield questions of one eye put with both open, until both have been examined alone.

    The two colours are left to their own fault.
    """
    since = max(_first_alone(work) for work in scene.work.values())
    for work in scene.worked:
        for look in work.looks:
            if look.number > since or not _of_one_eye(look):
                continue
            if _concerns(work, look) and not _other_fogged(look):
                yield at_look(look, "Both eyes were open.", abs(_other_m(look)))


def _of_one_eye(look: Look) -> bool:
    return look.question in ONE_EYE_ALONE and look.question != Question.COLOUR


def _first_alone(work: EyeWork) -> float:
    alone = (look.number for look in work.looks if look.alone and _of_one_eye(look))
    return next(alone, math.inf)


def _concerns(work: EyeWork, look: Look) -> bool:
    """Say whether a question with both eyes open is about this one: its lenses, or it is held."""
    hand = look.step.state.hand
    if hand is not None:
        return hand.side is work.side
    return look.lenses.count > 0


def _other_m(look: Look) -> float:
    error = look.step.error[look.side.other]
    return 0.0 if error is None else error[0]


def _other_fogged(look: Look) -> bool:
    return look.alone or _other_m(look) <= -FOGGED_D


def pinhole_skipped(scene: Scene) -> Iterator[Evidence]:
    """Yield for each eye a reading worse than 6/9 that no pinhole followed when it should."""
    for work in scene.worked:
        look = _poor_unaided(work) or _poor_at_the_end(work)
        if look is not None and look.acuity_logmar is not None:
            lines = 10.0 * look.acuity_logmar
            yield at_look(look, f"The {SIDE_NAMES[work.side]} eye read worse than 6/9.", lines)


def _poor(look: Look) -> bool:
    return look.acuity_logmar is not None and look.acuity_logmar > PINHOLE_FROM_LOGMAR + 1e-6


def _poor_unaided(work: EyeWork) -> Look | None:
    if not work.unaided or not _poor(work.unaided[-1]) or work.first_lens is None:
        return None
    tried = any(one.pinhole and one.number < work.first_lens.number for one in work.looks)
    return None if tried else work.unaided[-1]


def _poor_at_the_end(work: EyeWork) -> Look | None:
    read = [one for one in work.looks if one.acuity_logmar is not None and one.lenses.count]
    plain = [one for one in read if not one.pinhole]
    if not plain or not _poor(plain[-1]) or any(one.pinhole for one in read):
        return None
    return plain[-1]


def pinhole_alone(scene: Scene) -> Iterator[Evidence]:
    """Yield a pinhole without gain after which no lens was tried and none was recorded."""
    if scene.case.answer is not None and scene.case.answer.prescribe == "no":
        return
    for work in scene.work.values():
        looked = [one for one in work.looks if one.pinhole and one.acuity_logmar is not None]
        if not looked or work.first_lens is not None or _has_lens(work):
            continue
        plain = [one.acuity_logmar for one in work.unaided if one.acuity_logmar is not None]
        through = looked[-1].acuity_logmar or 0.0
        helps = bool(plain) and through < plain[-1] - 0.1
        size = abs(looked[-1].error[0])
        if not helps and size >= just_noticeable_d(scene.truths[work.side].acuity_logmar):
            yield at_look(looked[-1], "The pinhole won nothing, and no lens was tried.", size)


def _has_lens(work: EyeWork) -> bool:
    lens = work.recorded
    return lens is not None and (lens.sphere_d != 0.0 or lens.cylinder_d != 0.0)
