"""The procedure part: what each eye's refraction should contain, and what the faults cost."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from server.marking.crosses import Shown, crosses_of
from server.marking.eye_mark import EyeMark
from server.marking.faults.before import PINHOLE_FROM_LOGMAR
from server.marking.faults.fault import Fault, Scene
from server.marking.faults.finishing import CHANGED_D, tried_sphere_last
from server.marking.faults.sphere import AMPLITUDE_D
from server.marking.looks import ABOUT_LINES, LEAST_D, ONE_EYE_ALONE, EyeWork
from server.marking.part import Line, Part
from server.marking.rubric import Rubric

AXIS_MATTERS_D = 0.375  # of cylinder; less may be left out
Says = Callable[[Scene, EyeWork], bool]
States = Mapping[tuple[str, EyeSide], tuple[bool, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing that a refraction should contain, asked of each eye.

    ``fault`` is the fault that loses it, ``done`` says whether the log shows it, ``idle``
    whether this eye does not ask for it; ``always`` whether an eye without need asks for it too.
    """

    key: str
    title: str
    done: Says
    instead: str
    fault: str = ""
    idle: Says = lambda _, __: False
    always: bool = False


def _no_cylinder(scene: Scene, work: EyeWork) -> bool:
    """Say whether neither the eye nor the student asks for a cylinder."""
    return _needed_d(scene, work) < AXIS_MATTERS_D and not any(
        look.lenses.cylinders for look in work.looks
    )


def _needed_d(scene: Scene, work: EyeWork) -> float:
    """Return the cylinder that the eye needs, as a size."""
    return abs(scene.truths[work.side].lens().cylinder_d)


def _axis_sought(_: Scene, work: EyeWork) -> bool:
    shown = {one.shown for one in crosses_of(work)}
    lines = any(look.question in ABOUT_LINES for look in work.looks)
    return lines or bool(shown & {Shown.AXIS, Shown.BARE})


def _cylinder_moved(_: Scene, work: EyeWork) -> bool:
    sizes = [look.lenses.cylinder_d for look in work.looks]
    return bool(sizes) and max(sizes) - min(sizes) >= CHANGED_D - 1e-6


def _sphere_sought(_: Scene, work: EyeWork) -> bool:
    spheres = {round(look.lenses.sphere_d, 2) for look in work.looks}
    return len(spheres) > 1 or any(look.paired for look in work.looks)


def _small_cylinder(scene: Scene, work: EyeWork) -> bool:
    return _needed_d(scene, work) < CHANGED_D and not _cylinder_moved(scene, work)


def _pinhole_used(_: Scene, work: EyeWork) -> bool:
    return any(look.pinhole and look.read_logmar is not None for look in work.looks)


def _reads_well(_: Scene, work: EyeWork) -> bool:
    """Say whether both the first and the last reading were 6/9 or better."""
    read = [one.acuity_logmar for one in work.looks if one.acuity_logmar is not None]
    return bool(read) and max(read[0], read[-1]) <= PINHOLE_FROM_LOGMAR + 1e-6


def _alone(_: Scene, work: EyeWork) -> bool:
    return any(
        look.alone and (look.read_logmar is not None or look.question in ONE_EYE_ALONE)
        for look in work.looks
    )


def _read_at_the_end(_: Scene, work: EyeWork) -> bool:
    """Say whether letters were read through what was recorded, give or take a step."""
    mean_d = work.settled.spherical_equivalent_d
    return any(
        look.acuity_logmar is not None
        and not look.pinhole
        and look.alone
        and abs(look.lenses.mean_d - mean_d) <= 0.25 + LEAST_D
        for look in work.looks
    )


ITEMS: tuple[Item, ...] = (
    Item(
        key="fit",
        title="Frame fitted before the lenses",
        fault="frame-not-fitted",
        done=lambda _, work: bool(work.looks),
        instead="Fit the frame to the face before the first lens.",
        always=True,
    ),
    Item(
        key="unaided",
        title="Acuity before any lens",
        fault="no-unaided-acuity",
        done=lambda _, work: bool(work.unaided),
        instead="Let each eye read alone before its first lens.",
        always=True,
    ),
    Item(
        key="pinhole",
        title="Pinhole where an eye reads worse than 6/9",
        fault="pinhole-skipped",
        done=_pinhole_used,
        idle=_reads_well,
        instead="Hold the pinhole before every eye worse than 6/9.",
    ),
    Item(
        key="cover",
        title="One eye at a time",
        fault="other-eye-open",
        done=_alone,
        instead="Cover one eye while you examine the other.",
        always=True,
    ),
    Item(
        key="fog",
        title="Fogged, then unfogged",
        fault="no-fog",
        done=lambda _, work: bool(work.looks),
        idle=lambda scene, _: scene.case.eyes.amplitude_d <= AMPLITUDE_D,
        instead="Add plus until letters fall before you look for the best sphere.",
    ),
    Item(
        key="sphere",
        title="Sphere before cylinder",
        fault="cylinder-before-sphere",
        done=_sphere_sought,
        instead="Try spheres, plus first, until letters are best.",
    ),
    Item(
        key="axis",
        title="Axis before power",
        fault="power-before-axis",
        done=_axis_sought,
        idle=_no_cylinder,
        instead="Look for a cylinder with the cross cylinder or the fan, its axis first.",
    ),
    Item(
        key="compensation",
        title="Sphere moved with the cylinder",
        fault="sphere-not-compensated",
        done=_cylinder_moved,
        idle=_small_cylinder,
        instead="Look for the cylinder, and give 0.25 D of plus for each 0.50 of it.",
    ),
    Item(
        key="end-point",
        title="End point checked",
        fault="no-return-to-sphere",
        done=lambda _, work: tried_sphere_last(work),
        instead="End each eye with plus and minus 0.25, the two colours or +1.00.",
    ),
    Item(
        key="acuity",
        title="Acuity with the last lenses",
        done=_read_at_the_end,
        instead="Let each eye read down through what you are going to write.",
        always=True,
    ),
)
BEFORE_LENSES = ("fit", "unaided", "pinhole", "cover")  # all that is asked where to stop is right


def item_states(
    scene: Scene, eyes: Mapping[EyeSide, EyeMark], faults: Mapping[str, Fault], *, stopping: bool
) -> States:
    """Return for each item and eye whether it is earned, and in which words.

    ``stopping`` where the right thing was to stop and refer.
    """
    return {
        (item.key, side): _state(item, scene, work, eyes[side], faults.get(item.fault))
        if eyes[side].given is not None or stopping
        else (False, "not recorded")
        for item in ITEMS
        if not stopping or item.key in BEFORE_LENSES
        for side, work in scene.work.items()
    }


def procedure_part(
    states: States, faults: Mapping[str, Fault], rubric: Rubric, *, stopping: bool, cap: float
) -> Part:
    """Return the part, at most the cap."""
    items = [item for item in ITEMS if (item.key, EyeSide.RIGHT) in states]
    lines = [_item_line(item, states, faults, rubric) for item in items]
    lines += () if stopping else _charges(items, faults.values())
    return Part.of("procedure", "How it was done", lines, cap)


def _item_line(item: Item, states: States, faults: Mapping[str, Fault], rubric: Rubric) -> Line:
    most = rubric.procedure.get(item.key, 0.0)
    of_eyes = {side: states[item.key, side] for side in EyeSide}
    said = ", ".join(f"{SIDE_NAMES[side]} {words}" for side, (_, words) in of_eyes.items())
    return Line(
        words=f"{item.title}: {said}",
        points=most * sum(earned for earned, _ in of_eyes.values()) / len(of_eyes),
        most=most,
        fault=item.fault if item.fault in faults else "",
        instead=item.instead,
    )


def _state(
    item: Item, scene: Scene, work: EyeWork, eye: EyeMark, fault: Fault | None
) -> tuple[bool, str]:
    """Return whether an eye earns an item, and in which words."""
    if fault is not None and (item.key == "fit" or _shows(fault, work.side)):
        return False, "no"
    if eye.no_need and not item.always:
        return True, "not needed"
    if item.done(scene, work):
        return True, "yes"
    idle = bool(work.looks) and item.idle(scene, work)
    return (True, "not needed") if idle else (False, "not done")


def _shows(fault: Fault, side: EyeSide) -> bool:
    return any(one.side == side.value for one in fault.evidence)


def _charges(items: Iterable[Item], faults: Iterable[Fault]) -> Iterator[Line]:
    """Yield a charge for each fault of procedure that has not lost an item already."""
    bound = {item.fault for item in items}
    for fault in faults:
        if fault.part == "procedure" and fault.key not in bound:
            yield Line(words=fault.title, points=-fault.charge, fault=fault.key)
