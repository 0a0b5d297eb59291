"""The record card keeps what is typed in one form, or says what it does not understand."""

import pytest

from tests.student import Student, case_text, opened


@pytest.mark.parametrize(
    ("field", "typed", "kept"),
    [
        ("right_sphere", "-1.25", "−1.25"),
        ("right_sphere", " + 0,5 ", "+0.50"),
        ("left_sphere", "pl", "0.00"),
        ("left_sphere", "0", "0.00"),
        ("right_cylinder", "−.75", "−0.75"),
        ("right_axis", "5", "005"),
        ("right_axis", "0", "180"),
        ("left_axis", "180°", "180"),
        ("left_add", "+2", "+2.00"),
        ("right_unaided", "6/60", "6/60"),
        ("right_acuity", "6/9-2", "6/9−2"),
        ("right_acuity", "20/30", "20/30"),
        ("left_pinhole", "cf", "CF"),
        ("binocular_acuity", "-0.10", "−0.10"),
        ("right_pd", "31,5 mm", "31.5"),
        ("vertex", "13.75", "13.75"),
        ("prescribe", "yes", "yes"),
        ("refer", "same day", "same day"),
        ("comments", "  two\n words ", "two words"),
        ("comments", "   ", ""),
    ],
)
def test_the_card_keeps_a_field_in_one_form(card_room, field, typed, kept):
    answer = card_room.does("card", field=field, text=typed)
    assert card_room.last.body == {"fields": {field: kept}}
    assert f'data-value="{kept}"' in answer
    assert card_room.state.record[field] == kept
    if kept:
        assert kept in card_room.gets().text


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("right_sphere", "1.25", "has no sign"),
        ("right_sphere", "-1.2.5", "not a number"),
        ("right_sphere", "-31", "within 30 D"),
        ("right_sphere", "nan", "not a number"),
        ("right_sphere", "-1e3", "not a number"),
        ("right_cylinder", "٣", "not a number"),
        ("right_axis", "181", "from 1 to 180"),
        ("right_axis", "-5", "from 1 to 180"),
        ("right_axis", "22.5", "from 1 to 180"),
        ("right_acuity", "sharp", "not an acuity"),
        ("right_acuity", "7/9", "not an acuity"),
        ("right_acuity", "6/٩", "not an acuity"),
        ("right_pd", "62", "24 to 40 mm"),
        ("vertex", "7", "8 to 20 mm"),
        ("prescribe", "maybe", "must be one of yes, no"),
        ("refer", "tomorrow", "must be one of none"),
        ("comments", "x" * 201, "at most 200"),
        ("comments", "x" * 401, "at most 400"),
        ("need", "?", "no field 'need'"),
        ("", "-1.00", "field"),
    ],
)
def test_the_card_refuses_and_names_the_field(card_room, field, typed, words):
    said = card_room.refused("card", field=field, text=typed)
    assert words in said
    assert card_room.state.record == {}


@pytest.fixture(scope="module")
def card_house(tmp_path_factory):
    with opened(tmp_path_factory.mktemp("house"), one=case_text()) as client:
        yield client


@pytest.fixture
def card_room(card_house) -> Student:
    return Student.begins(card_house)


def test_a_field_is_written_over_and_cleared(card_room):
    for typed in ("-1.00", "-2.00", ""):
        card_room.does("card", field="right_sphere", text=typed)
    assert [event.body["fields"]["right_sphere"] for event in card_room.events[1:]] == [
        "−1.00",
        "−2.00",
        "",
    ]
    assert card_room.state.record == {"right_sphere": ""}
