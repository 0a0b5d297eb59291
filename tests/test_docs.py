"""The guides are true: modules, settings and case keys stand where a reader looks for them."""

import typing

import pytest

from server.casebook import CaseFile
from server.settings import REPOSITORY, SETTINGS

README = (REPOSITORY / "README.md").read_text(encoding="utf-8")
GUIDE = (REPOSITORY / "DEVELOPERS.md").read_text(encoding="utf-8")
FLOORS = GUIDE.partition("## The floors")[2].partition("## One request")[0]
SWEPT_UP = ("server/web/", "server/store/", "server/attempts/", "server/marking/")


def modules() -> list[str]:
    found = [
        path.relative_to(REPOSITORY).as_posix()
        for folder in ("optics", "server")
        for path in (REPOSITORY / folder).rglob("*.py")
        if path.name != "__init__.py"
    ]
    return sorted(path for path in found if not path.startswith(SWEPT_UP))


def case_keys() -> list[str]:
    keys = []
    for name, field in CaseFile.model_fields.items():
        kinds = typing.get_args(field.annotation) or (field.annotation,)  # a part may be left out
        parts = getattr(kinds[0], "model_fields", None)
        keys += [f"{name}.{part}" for part in parts] if parts else [name]
    return keys


@pytest.mark.parametrize("module", modules())
def test_every_module_stands_on_a_floor(module):
    assert f"{module.rpartition('/')[2]}`" in FLOORS


@pytest.mark.parametrize("folder", SWEPT_UP)
def test_every_folder_stands_on_a_floor(folder):
    assert folder.removeprefix("server/") in FLOORS


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda setting: setting.name)
def test_every_setting_stands_in_the_readme(setting):
    assert f"| `{setting.name}` | `{setting.default}` | {setting.meaning} |" in README


@pytest.mark.parametrize("key", case_keys())
def test_every_case_key_stands_in_the_guide(key):
    assert f"`{key}`" in GUIDE


@pytest.mark.parametrize("heading", ["Run", "Test"])
def test_each_command_is_one_block_of_one_line(heading):
    section = README.partition(f"## {heading}\n")[2].partition("\n## ")[0]
    blocks = section.split("```")[1::2]
    assert [len(block.strip().splitlines()) for block in blocks] == [1]
