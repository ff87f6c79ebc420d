"""A list of clients in a file: signs, columns, days, look-alikes, and cells that a spreadsheet would run."""

import csv
import io
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules import importing as rules
from clients.rules.importing import DayOrder
from clients.rules.names import alike
from studio.rules import Refused

LIST = "Full name,E-mail,Date of birth\nŁucja Żak,l.zak@mail.example,1985-05-31\nØyvind Moe,,\n"


def code(deed, *given):
    with pytest.raises(Refused) as refused:
        deed(*given)
    return refused.value.reasons[0].code


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_a_list_is_read_in_each_of_the_usual_signs(encoding, sign):
    found = rules.sheet(LIST.replace(",", sign).encode(encoding))
    assert found.header == ("Full name", "E-mail", "Date of birth")
    assert found.rows[0] == (2, ("Łucja Żak", "l.zak@mail.example", "1985-05-31"))


def test_an_older_western_file_is_read():
    assert rules.sheet("Name;Ort\nJürg Weiß;Köln\n".encode("cp1252")).rows == ((2, ("Jürg Weiß", "Köln")),)


def test_quoted_cells_hold_signs_and_lines_and_the_line_is_where_the_row_begins():
    found = rules.sheet(b'Name;Notes\r\n"Quill; Ada";"rings\r\nthe bell"\r\nOdalys Venn;\r\n')
    assert found.rows == ((2, ("Quill; Ada", "rings\r\nthe bell")), (4, ("Odalys Venn", "")))


def test_empty_lines_are_passed_over_and_short_and_long_rows_are_not_lost():
    found = rules.sheet(b"Name,Phone\n\n,\nAda\nOdalys,1,2,3\n")
    assert found.rows == ((4, ("Ada", "")), (5, ("Odalys", "1 2 3")))


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"", "no_rows"),
        (b"\n \n", "no_rows"),
        (b"Name,Phone\n", "no_rows"),
        (b"Name\n" + b"Ada\n" * 5001, "too_many"),
        (b"x" * (2 * 1024 * 1024 + 1), "too_big"),
        (",".join(["a"] * 61).encode() + b"\nb\n", "too_wide"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00", "unreadable"),
        (b"\xff\xfeN\x00a", "unreadable"),
        (b"Name\n\x81\x8d", "unreadable"),
        (b'Name\n"Ada', "unreadable"),
    ],
)
def test_what_is_no_list_is_refused_with_a_reason(content, expected):
    assert code(rules.sheet, content) == expected


def test_five_thousand_rows_are_read():
    assert len(rules.sheet(b"Name\n" + b"Ada\n" * 5000).rows) == 5000


@given(st.binary(max_size=400))
def test_no_bytes_at_all_break_the_reading(content):
    try:
        found = rules.sheet(content)
    except Refused:
        return
    assert all(len(cells) == len(found.header) for _, cells in found.rows)


def test_columns_are_guessed_from_common_words_each_once():
    header = ("First_Name", "Surname", "E-Mail:", "Telefon", "DOB", "Shoe size", "Phone", "Emergency contact")
    assert rules.guessed(header) == (
        "first_name", "last_name", "email", "phone", "born_on", "", "", "emergency_name",
    )  # fmt: skip


@pytest.mark.parametrize("title", ["Medical notes", "Injuries", "Diagnosis", "PREGNANT?", "Verletzungen", "santé"])
def test_a_column_about_health_is_neither_guessed_nor_taken(title):
    assert rules.guessed(["Name", title]) == ("name", "")
    reasons = rules.column_refusals(["Name", title], ["name", "notes"])
    assert [(one.code, one.field) for one in reasons] == [("health_column", "column_1")]


@pytest.mark.parametrize(
    ("columns", "expected"),
    [
        (["email", ""], ["no_name"]),
        (["name", "name"], ["twice"]),
        (["name", "shoe"], ["unknown_column"]),
        (["first_name", "last_name"], []),
    ],
)
def test_columns_that_cannot_be_are_refused(columns, expected):
    assert [one.code for one in rules.column_refusals(["A", "B"], columns)] == expected


def test_the_halves_of_a_name_are_joined():
    assert rules.words_of(["Quill", "Ada", "1"], ["last_name", "first_name", "phone"]) == {
        "name": "Ada Quill",
        "phone": "1",
    }


@pytest.mark.parametrize(
    ("text", "order", "expected"),
    [
        ("1985-05-31", DayOrder.MONTH_FIRST, date(1985, 5, 31)),
        ("31.05.1985", DayOrder.DAY_FIRST, date(1985, 5, 31)),
        ("5/4/1985", DayOrder.DAY_FIRST, date(1985, 4, 5)),
        ("5/4/1985", DayOrder.MONTH_FIRST, date(1985, 5, 4)),
        ("1985-05-31 00:00:00", DayOrder.ISO, date(1985, 5, 31)),
        ("", DayOrder.ISO, None),
    ],
)
def test_days_are_read_as_chosen(text, order, expected):
    assert rules.day_of(text, order) == expected


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("31.05.1985", DayOrder.ISO),
        ("05/31/1985", DayOrder.DAY_FIRST),
        ("31.5.85", DayOrder.DAY_FIRST),
        ("2023-02-29", DayOrder.ISO),
        ("May 1985", DayOrder.DAY_FIRST),
        ("0000-01-01", DayOrder.ISO),
    ],
)
def test_a_day_that_is_none_or_could_be_two_is_refused(text, order):
    assert code(rules.day_of, text, order) == "not_a_day"


names = st.text(alphabet="abcł ", min_size=1, max_size=9)


@given(st.lists(names, max_size=6), names)
def test_look_alikes_are_found_exactly_as_names_are_compared(known, name):
    neighbours = rules.Neighbours()
    for number, one in enumerate(known):
        neighbours.add(str(number), name=one, email="")
    assert bool(neighbours.like(name=name, email="")) == any(alike(one, name) for one in known)


def test_the_same_address_is_the_same_person_whatever_the_name():
    neighbours = rules.Neighbours()
    neighbours.add("7", name="Ada Quill", email="Ada@Mail.example")
    assert neighbours.like(name="Somebody Else", email="ada@mail.EXAMPLE") == "7"


# OWASP, "CSV Injection": cells that begin with = + - @ tab or carriage return (from memory).
@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"])
def test_no_cell_of_the_file_back_runs_in_a_spreadsheet(cell):
    text = rules.refused_file([cell], [(2, [cell], cell)])
    for row in csv.reader(io.StringIO(text, newline="")):
        assert not any(one.startswith(rules.RUNS) for one in row)
