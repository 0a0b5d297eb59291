"""Case files: every shipped one loads, a broken one says where and what, and is left out."""

import logging
import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder
from server.app import create_app
from server.casebook import Case, CaseFault, read_case, read_casebook
from server.settings import REPOSITORY, Settings
from tests.conftest import OUR_ORIGIN
from tests.student import case_text, opened

SHIPPED = sorted((REPOSITORY / "cases").glob("*.toml"))
TELLING = re.compile(
    r"myop|hyper|astig|presby|aniso|ambly|squint|strab|cataract|kerato|near.?sight|long.?sight"
    r"|short.?sight|far.?sight|emmetr|latent|spasm|cyl|sphere|diopt|minus|plus|oblique|rule",
    re.IGNORECASE,
)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_shipped_case_loads(path):
    case = read_case(path)
    assert isinstance(case, Case), case
    assert (case.stem, case.level in {1, 2, 3}) == (path.stem, True)
    assert set(case.history) == {"onset", "which_eye", "pain", "flashes", "health", "spectacles"}


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_neither_name_nor_comment_nor_words_of_a_case_tell(path):
    comments = re.findall(r"#.*", path.read_text())
    assert not TELLING.search(path.stem)
    assert not [comment for comment in comments if TELLING.search(comment)]
    case = read_case(path)
    said = [case.who, case.complaint]  # what everybody reads before the first lens
    assert not [words for words in said if TELLING.search(words)]


def test_the_shipped_cases_are_different_people():
    book = read_casebook(REPOSITORY / "cases")
    assert book.faults == ()
    assert len(book.cases) == len(SHIPPED) >= 3
    cases = book.cases.values()
    for what in ("public_id", "digest", "who", "complaint"):
        assert len({getattr(case, what) for case in cases}) == len(cases), what


def changed(old: str, new: str) -> str:
    text = case_text()
    assert old in text
    return text.replace(old, new, 1)


BROKEN = {
    "syntax": (changed('who = "', "who = "), 5, "file", "is not TOML"),
    "empty": ("", 1, "level", "Field required"),
    "no table": (changed("[person]\n", ""), 1, "person", "Field required"),
    "twice": (changed("level = 1", "level = 1\nlevel = 2"), 2, "file", "overwrite a value"),
    "text for a number": (changed("age = 30", 'age = "30"'), 4, "person.age", "valid integer"),
    "number for a text": (changed('"-1.75"', "0"), 9, "right.need", "valid string"),
    "half a year": (changed("age = 30", "age = 30.5"), 4, "person.age", "valid integer"),
    "yes for a number": (changed("level = 1", "level = true"), 1, "level", "valid integer"),
    "list": (changed("age = 30", "age = [30]"), 4, "person.age", "valid integer"),
    "missing": (changed("age = 30\n", ""), 3, "person.age", "Field required"),
    "missing words": (changed('pain = "No pain."\n', ""), 19, "history.pain", "Field required"),
    "unknown": (changed("age = 30", "age = 30\nname = 1"), 5, "person.name", "not permitted"),
    "unknown table": (case_text() + "\n[extra]\na = 1\n", 27, "extra", "not permitted"),
    "too young": (changed("age = 30", "age = 9"), 4, "person.age", "greater than or equal to 10"),
    "too old": (changed("age = 30", "age = 96"), 4, "person.age", "less than or equal to 95"),
    "level": (changed("level = 1", "level = 4"), 1, "level", "equal to 3"),
    "pupil": (changed("pupil_mm = 4.0", "pupil_mm = 9"), 17, "eyes.pupil_mm", "equal to 8.5"),
    "not a number": (changed("pupil_mm = 4.0", "pupil_mm = nan"), 17, "eyes.pupil_mm", "finite"),
    "infinite": (changed("pd_mm = 31.0", "pd_mm = inf"), 10, "right.pd_mm", "finite"),
    "no words": (changed('"No pain."', '""'), 22, "history.pain", "at least 2 characters"),
    "many words": (changed("No pain.", "No. " * 99), 22, "history.pain", "at most 300"),
    "sign": (changed('"-1.75"', '"1.00"'), 9, "right.need", "without a sign"),
    "axis": (changed('"-1.75"', '"-1.00/-1.00"'), 9, "right.need", "needs an axis"),
    "axis too large": (changed('"-1.75"', '"-1/-1x181"'), 9, "right.need", "from 1 to 180"),
    "power too large": (changed('"-1.75"', '"-31.00"'), 9, "right.need", "within 30 D"),
    "not a lens": (changed('"-1.75"', '"strong"'), 9, "right.need", "not a prescription"),
    "start": (case_text() + '[start]\nworn_left = "2"\n', 27, "start.worn_left", "without a sign"),
    "floor": (
        changed("pupil_mm = 4.0", "amplitude_d = 1.0\nfloor_d = 2.0"),
        16,
        "eyes",
        "floor <= amplitude",
    ),
    "long number": (changed("age = 30", "age = " + "3" * 5000), 1, "file", "is not TOML"),
    "long hex number": (changed("age = 30", "age = 0x" + "f" * 9000), 4, "person.age", "95"),
    "nested lists": (changed("age = 30", "age = " + "[" * 30_000), 1, "file", "is not TOML"),
    "nested tables": (changed("age = 30", "a = " + "{a=" * 9_000), 1, "file", "is not TOML"),
    "dotted": (".".join("a" * 3_000) + " = 1\n" + case_text(), 1, "a", "not permitted"),
    "large": (case_text() + "#" * 70_000, 1, "file", "larger than 65536 bytes"),
}


def faults_of(folder: Path, raw: str | bytes) -> tuple[CaseFault, ...]:
    path = folder / "broken.toml"
    path.write_bytes(raw if isinstance(raw, bytes) else raw.encode())
    read = read_case(path)
    assert not isinstance(read, Case)
    return read


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_file_gives_file_line_and_field(tmp_path, name):
    text, line, field, message = BROKEN[name]
    faults = faults_of(tmp_path, text)
    [fault] = [one for one in faults if one.field == field]
    assert message in fault.message
    assert str(fault) == f"broken.toml:{line}: {field}: {fault.message}"
    assert len(fault.message) < 400


@pytest.mark.parametrize(
    ("raw", "line", "message"),
    [
        (case_text().encode("utf-16"), 1, "is not UTF-8 text"),
        (case_text(who="a café owner").encode("latin-1"), 5, "is not UTF-8 text"),
        (b"\x00\x01\x02", 1, "is not TOML"),
        (b"\xef\xbb\xbf" + case_text().encode(), 1, "is not TOML"),
    ],
)
def test_bytes_that_are_no_text_are_named(tmp_path, raw, line, message):
    [fault] = faults_of(tmp_path, raw)
    assert (fault.file, fault.line, fault.field) == ("broken.toml", line, "file")
    assert message in fault.message


def test_all_faults_of_a_file_are_told_at_once(tmp_path):
    text = case_text().replace("age = 30", "age = 3").replace('need = "-2.00"', 'need = "2"')
    assert [(fault.line, fault.field) for fault in faults_of(tmp_path, text)] == [
        (4, "person.age"),
        (13, "left.need"),
    ]


def test_a_folder_in_place_of_a_file_and_a_lost_link_are_named(tmp_path):
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "link.toml").symlink_to(tmp_path / "nowhere")
    book = read_casebook(tmp_path)
    assert [(fault.file, fault.field) for fault in book.faults] == [
        ("folder.toml", "file"),
        ("link.toml", "file"),
    ]
    assert all("cannot be read" in fault.message for fault in book.faults)


def test_a_folder_that_is_not_there_is_an_empty_book(tmp_path):
    book = read_casebook(tmp_path / "nowhere")
    assert (dict(book.cases), book.faults) == ({}, ())


def test_the_server_starts_with_broken_files_and_leaves_them_out(tmp_path, caplog):
    caplog.set_level(logging.WARNING, logger="server")
    texts = {name.replace(" ", "-"): text for name, (text, *_) in BROKEN.items()}
    with opened(tmp_path, good=case_text(), **texts) as client:
        home = client.get("/").text
    assert home.count("a bit soft") == 1
    assert f"{len(BROKEN)} case files could not be read" in home
    warnings = [record.getMessage() for record in caplog.records]
    assert "left out of the casebook: syntax.toml:5: file: is not TOML" in "\n".join(warnings)
    for stem in texts:
        assert f"{stem}.toml" in caplog.text
        assert f"{stem}.toml" not in home


def test_without_any_case_the_start_page_says_so(tmp_path):
    with opened(tmp_path) as client:
        answer = client.get("/")
    assert answer.status_code == 200
    assert "There are no patients" in answer.text


def test_an_attempt_whose_case_is_gone_is_left_out_and_not_found(tmp_path):
    with opened(tmp_path, one=case_text(), two=case_text(who="a drummer")) as client:
        case = client.app.state.attempts.casebook.cases["one"]
        client.post("/attempts", data={"case": case.public_id})
        [row] = client.app.state.store.attempts_of(1)
        cookies = client.cookies
    (tmp_path / "cases" / "one.toml").unlink()
    settings = Settings(data_folder=tmp_path / "data", cases_folder=tmp_path / "cases")
    with TestClient(create_app(settings), base_url=OUR_ORIGIN, cookies=cookies) as client:
        assert row.id not in client.get("/").text
        assert client.get(f"/attempts/{row.id}").status_code == 404


def test_what_a_case_says_is_what_is_read(tmp_path):
    path = tmp_path / "one.toml"
    path.write_text(
        case_text(right="-1.00/+2.00x90", left="plano", age=44)
        + '[start]\nobjective_right = "+1.00/-2.00x180"\n'
    )
    case = read_case(path)
    assert case.needs[EyeSide.RIGHT] == SpheroCylinder(
        sphere_d=1.0, cylinder_d=-2.0, axis_deg=180.0
    )
    assert case.needs[EyeSide.LEFT] == SpheroCylinder(sphere_d=0.0)
    assert (case.age_y, case.eyes.age_y, case.pd_mm) == (44, 44, (31.0, 32.5))
    assert case.eyes.right.pupil_mm == case.eyes.left.pupil_mm == 4.0
    assert dict(case.start) == {"objective_right": "+1.00/-2.00x180"}
    # plano for a wall at 6 m: the light at the cornea comes from 6 m − 12 mm + 12 mm
    assert case.eyes.left.required_vergence == pytest.approx((-1 / 6, 0, 0), abs=1e-9)


def test_pages_know_a_case_by_an_id_that_does_not_name_it(tmp_path):
    for stem in ("one", "two"):
        (tmp_path / f"{stem}.toml").write_text(case_text())
    book = read_casebook(tmp_path)
    one, two = book.cases.values()
    assert one.public_id != two.public_id
    assert book.by_public_id(one.public_id) is one
    assert book.by_public_id("one") is None
    assert re.fullmatch("[0-9a-f]{12}", one.public_id)


def test_a_drawn_person_is_the_same_each_time_and_another_by_another_number(tmp_path):
    def terms(number: int) -> tuple[object, ...]:
        path = tmp_path / "drawn.toml"
        shared = f"[eyes]\nindividual = {number}\n"
        path.write_text((REPOSITORY / "cases" / "alder.toml").read_text() + shared)
        case = read_case(path)
        assert isinstance(case, Case), case
        return case.eyes.right.zernike_um, case.eyes.left.zernike_um

    assert terms(7) == terms(7)
    assert terms(7) != terms(8)
    assert terms(7)[0] != terms(7)[1]
