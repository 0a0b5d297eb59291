"""A closer look at a part of the wall: chosen in the room, kept by the page, no act."""

import io
import re
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient
from PIL import Image

from tests.student import Student, case_text, opened


@pytest.fixture(scope="module")
def house(tmp_path_factory) -> Iterator[TestClient]:
    with opened(tmp_path_factory.mktemp("house"), one=case_text(right="-0.50")) as browser:
        yield browser


@pytest.fixture
def student(house) -> Student:
    return Student.begins(house)


def looked_at(page: str) -> tuple[str, str]:
    """Return which part of the wall a room shows as chosen, and where its picture comes from."""
    chosen = re.search(r'<option value="(\d+)" data-spot="[^"]*" selected>', page)
    picture = re.search(r'id="eye-picture" src="([^"]+)"', page)
    assert picture
    return chosen[1] if chosen else "", picture[1]


def test_a_closer_look_stays_through_presses_and_ends_with_another_chart(student):
    assert looked_at(student.gets().text)[0] == "0"
    part, address = looked_at(student.gets("/room?look=11").text)
    assert part == "11"
    assert re.fullmatch(rf"{student.address}/pictures/1-R-[0-9a-f]{{8}}\.png\?look=11", address)
    assert looked_at(student.does("step", at="R.2", step="minus", look=11))[0] == "11"
    assert looked_at(student.does("wall", distance="4", look=11))[0] == "11"
    part, address = looked_at(student.does("wall", view="line", look=11))
    assert (part, "look" in address) == ("0", False)
    assert looked_at(student.does("wall", view="letter", look=3))[0] == ""  # nothing to choose
    assert looked_at(student.gets("/room?look=3").text)[0] == ""


def test_an_overtaken_tab_keeps_its_closer_look(student):
    seen = student.last.number
    student.in_another_tab().does("letters")
    answer = student.press("letters", seen=seen, look=5)
    assert answer.status_code == 409
    assert looked_at(answer.text)[0] == "5"


def test_a_closer_look_is_another_picture_of_the_same_size(student):
    pictures = []
    for look in ("", "?look=1", "?look=11", "?look=20"):
        answer = student.gets(f"/pictures/1-R-x.png{look}")
        assert answer.headers["Cache-Control"] == "private, no-store"
        with Image.open(io.BytesIO(answer.content)) as picture:
            assert picture.size == (640, 480)
        pictures.append(answer.content)
    assert len(set(pictures)) == 3
    assert pictures[3] == pictures[0]  # no such part: the whole


def test_the_scale_of_the_picture_is_said(student):
    # whole: 14 lines from 50 minutes of arc; closer: 9 letters of 5 minutes on 86 % of 640 pixels
    assert "1 pixel = 0.082 minutes of arc" in student.gets("/room?look=11").text
    assert f"{45 / 0.86 / 60:.2f}° wide" in student.gets("/room?look=11").text
    whole = re.search(r"([\d.]+)° wide; 1 pixel = ([\d.]+) minutes", student.gets().text)
    assert float(whole[1]) == pytest.approx(640 * float(whole[2]) / 60, abs=0.1)
