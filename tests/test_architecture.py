"""The house's rules as tests: floors, what may be imported where, and how long things are.

Every exception stands on a list with its reason; an entry that is no longer needed fails.
"""

import ast
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
LONGEST_FILE, LONGEST_FUNCTION = 400, 40

# imports go downward, or sideways without a cycle; a module missing here fails
FLOORS = {
    **dict.fromkeys(["optics", "optics.errors", "optics.units"], 0),
    **dict.fromkeys(["optics.light", "optics.eye", "optics.sight", "optics.patient"], 0),
    "optics.evidence": 0,
    **dict.fromkeys(["optics.light.power", "optics.light.notation", "optics.light.tilt"], 1),
    **dict.fromkeys(["optics.light.lens", "optics.light.lens_case"], 1),
    **dict.fromkeys(["optics.light.frame", "optics.light.field_of_view", "optics.light.beam"], 2),
    **dict.fromkeys(["optics.eye.eye", "optics.eye.population", "optics.eye.pupil"], 2),
    **dict.fromkeys(["optics.eye.media", "optics.eye.nerve"], 2),
    **dict.fromkeys(["optics.eye.accommodation", "optics.eye.chromatic", "optics.eye.zernike"], 2),
    "optics.eye.colour": 2,
    **dict.fromkeys(["optics.eye.grid", "optics.eye.wavefront"], 3),
    **dict.fromkeys(
        ["optics.eye.lattice", "optics.eye.overlap", "optics.eye.rays", "optics.eye.transfer"], 3
    ),
    "optics.eye.slit": 3,
    **dict.fromkeys(["optics.sight.letters", "optics.sight.targets"], 3),
    **dict.fromkeys(["optics.sight.figures", "optics.sight.scene"], 3),
    **dict.fromkeys(["optics.sight.neural", "optics.sight.probit"], 3),
    **dict.fromkeys(
        ["optics.sight.sampling", "optics.sight.orientation", "optics.sight.laying"], 4
    ),
    **dict.fromkeys(["optics.sight.reader", "optics.sight.details"], 4),
    **dict.fromkeys(["optics.sight.clarity", "optics.sight.picture"], 4),
    **dict.fromkeys(["optics.sight.canvas", "optics.sight.raster", "optics.sight.streak"], 4),
    **dict.fromkeys(["optics.sight.focus", "optics.sight.view"], 5),
    **dict.fromkeys(["optics.sight.end_point", "optics.sight.best_acuity"], 6),
    **dict.fromkeys(["optics.patient.questions", "optics.patient.traits"], 7),
    **dict.fromkeys(["optics.patient.replies", "optics.patient.compare"], 7),
    **dict.fromkeys(["optics.patient.change", "optics.patient.colours"], 7),
    **dict.fromkeys(["optics.patient.far_off", "optics.patient.ghost", "optics.patient.lines"], 7),
    **dict.fromkeys(["optics.evidence.nominal", "optics.evidence.lookup"], 8),
    **dict.fromkeys(["optics.evidence.likelihood", "optics.evidence.posterior"], 8),
    "optics.evidence.telling": 8,
    **dict.fromkeys(["optics.grammar", "optics.report", "optics.__main__"], 9),
    **dict.fromkeys(["server", "server.attempts", "server.marking", "server.store"], 10),
    **dict.fromkeys(["server.settings", "server.errors", "server.casebook"], 10),
    "server.moment": 10,
    **dict.fromkeys(["server.case_file", "server.case_eyes", "server.case_range"], 10),
    **dict.fromkeys(["server.case_marking", "server.marking.rubric"], 10),  # a case may weigh anew
    "server.keeper": 10,
    **dict.fromkeys(["server.case_report", "server.evidence"], 11),
    **dict.fromkeys(["server.app", "server.__main__"], 14),
}
# the longest prefix decides
PREFIXES = {
    "optics.validation": 9,
    "server.store.": 10,
    "server.attempts.": 11,
    "server.marking.": 11,
    "server.web": 12,
    "server.web.routes": 13,
}

ENGINE_REACHES_OUT = {
    ("optics/__main__.py", "PIL"): "the command line writes a picture to the file named by --out",
}
ENGINE_ACTS = {
    ("optics/__main__.py", "sys"): "the command line reads its words and writes faults to stderr",
    ("optics/__main__.py", "pathlib"): "the command line writes the file named by --out",
    ("optics/__main__.py", "print"): "a command prints",
}
NUMPY_IN_SERVER = {"server/web/encode.py": "encodes the picture that the engine returns"}
LONG_FILES = {}
LONG_FUNCTIONS: dict[str, str] = {}

# files, the clock, logs, chance, processes: what an engine that only computes has no use for
ACTING = {"datetime", "io", "logging", "os", "pathlib", "random", "secrets", "shutil", "socket"} | {
    *("subprocess", "sys", "tempfile", "threading", "time"),
}


def sources(package: str) -> list[str]:
    return sorted(str(path.relative_to(ROOT)) for path in (ROOT / package).rglob("*.py"))


ENGINE, SERVER = sources("optics"), sources("server")


@cache
def tree(path: str) -> ast.Module:
    return ast.parse((ROOT / path).read_text(encoding="utf-8"))


def module_of(path: str) -> str:
    return path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


MODULES = {module_of(path): path for path in ENGINE + SERVER}


def imported(path: str) -> set[str]:
    """Return every module that a file imports anywhere in it, by its full name."""
    names = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written in full"
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            names |= (inner & MODULES.keys()) or {str(node.module)}
    return names


def roots(path: str) -> set[str]:
    return {name.partition(".")[0] for name in imported(path)}


def own_imports(path: str) -> set[str]:
    return imported(path) & MODULES.keys()


def floor(module: str) -> int:
    if module in FLOORS:
        return FLOORS[module]
    matching = [prefix for prefix in PREFIXES if module.startswith(prefix)]
    assert matching, f"{module} has no floor: add it to FLOORS"
    return PREFIXES[max(matching, key=len)]


@pytest.mark.parametrize("path", ENGINE + SERVER)
def test_every_module_has_a_floor_and_imports_nothing_from_above(path):
    own = floor(module_of(path))
    above = {name: floor(name) for name in own_imports(path) if floor(name) > own}
    assert not above, f"{path} on floor {own} imports {above}"


def test_no_floor_is_kept_for_a_module_that_is_gone():
    assert not set(FLOORS) - set(MODULES)


def test_there_is_no_cycle_on_a_floor():
    on_floor = {
        module: {name for name in own_imports(path) if floor(name) == floor(module)}
        for module, path in MODULES.items()
    }
    for module in on_floor:
        seen, waiting = set(), set(on_floor[module]) - {module}
        while waiting:
            name = waiting.pop()
            assert name != module, f"{module} imports itself by way of {sorted(seen)}"
            seen.add(name)
            waiting |= on_floor[name] - seen


@pytest.mark.parametrize("path", ENGINE)
def test_the_engine_imports_only_numpy_and_itself(path):
    foreign = roots(path) - {"numpy", "optics"} - set(sys.stdlib_module_names)
    unexcused = {name for name in foreign if (path, name) not in ENGINE_REACHES_OUT}
    assert not unexcused, f"{path} reaches out of the engine: {sorted(unexcused)}"


def acts(path: str) -> set[str]:
    """Return what a file does beyond computing: modules that act, and calls that do."""
    calls = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            calls |= {node.func.id} & {"open", "print", "input", "exec", "eval", "breakpoint"}
        elif isinstance(node, ast.Attribute):
            calls |= {node.attr} & {"default_rng", "random", "tofile", "fromfile", "load", "save"}
    return calls | (roots(path) & ACTING)


@pytest.mark.parametrize("path", ENGINE)
def test_the_engine_only_computes(path):
    # Image.save in the command line is the picture itself, excused with PIL above
    excused = {"save"} if (path, "PIL") in ENGINE_REACHES_OUT else set()
    unexcused = {act for act in acts(path) - excused if (path, act) not in ENGINE_ACTS}
    assert not unexcused, f"{path} does more than compute: {sorted(unexcused)}"


@pytest.mark.parametrize("path", [path for path in SERVER if "/web/routes/" in path])
def test_routes_neither_compute_nor_see(path):
    assert not roots(path) & {"numpy", "optics", "scipy", "PIL"}


@pytest.mark.parametrize("path", SERVER)
def test_numbers_of_a_picture_stay_where_it_is_encoded(path):
    assert "numpy" not in roots(path) or path in NUMPY_IN_SERVER


@pytest.mark.parametrize("path", ENGINE + SERVER)
def test_no_file_is_too_long_to_read_at_once(path):
    lines = len((ROOT / path).read_text(encoding="utf-8").splitlines())
    assert lines <= LONGEST_FILE or path in LONG_FILES, f"{path} has {lines} lines"


def function_lengths(path: str) -> dict[str, int]:
    """Return the lines of every function of a file, its docstring left out."""
    lengths = {}
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = node.end_lineno - node.lineno + 1
            if ast.get_docstring(node) is not None:
                length -= node.body[0].end_lineno - node.body[0].lineno + 1
            lengths[f"{path}:{node.name}"] = max(length, lengths.get(f"{path}:{node.name}", 0))
    return lengths


@pytest.mark.parametrize("path", ENGINE + SERVER)
def test_no_function_is_too_long_to_hold_in_mind(path):
    too_long = {
        name: length
        for name, length in function_lengths(path).items()
        if length > LONGEST_FUNCTION and name not in LONG_FUNCTIONS
    }
    assert not too_long


def test_no_exception_outlives_its_need():
    assert all(name in roots(path) for path, name in ENGINE_REACHES_OUT)
    assert all(act in acts(path) for path, act in ENGINE_ACTS)
    assert all("numpy" in roots(path) for path in NUMPY_IN_SERVER)
    for path in LONG_FILES:
        assert len((ROOT / path).read_text(encoding="utf-8").splitlines()) > LONGEST_FILE
    for name in LONG_FUNCTIONS:
        assert function_lengths(name.partition(":")[0])[name] > LONGEST_FUNCTION


# ---- that these tests can fail


def test_a_breach_would_be_seen():
    assert floor("server.web.routes.room") == 13
    assert floor("server.web.forms") == floor("server.web") == 12
    assert floor("server.attempts.service") == 11
    assert "optics.light.power" in own_imports("optics/light/lens.py")
    assert "sys" in acts("optics/__main__.py")
    with pytest.raises(AssertionError, match="has no floor"):
        floor("optics.sight.unheard_of")
