"""Names: one person written twice is noticed, whatever the script."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules.names import alike, name_key


@pytest.mark.parametrize(
    ("written", "key"),
    [
        ("  José   Ñandú ", "jose nandu"),
        ("ŁUCJA Øst", "lucja ost"),
        ("Straße", "strasse"),
        ("İnci Işık", "inci isik"),
        ("\u202bדָּנָה\u202c", "דנה"),
        ("한글", "한글"),
        ("नीता", "नीता"),
        ("Ｆｕｌｌ", "full"),
        ("", ""),
    ],
)
def test_the_key_drops_accents_case_and_spare_spaces_and_keeps_every_script(written, key):
    assert name_key(written) == key


def test_signs_that_make_another_letter_are_kept():
    assert name_key("が") != name_key("か")
    assert name_key("नीता") != name_key("नता")


@given(st.text())
def test_the_key_of_a_key_is_itself(name):
    assert name_key(name_key(name)) == name_key(name)


@given(st.text(), st.text())
def test_being_alike_goes_both_ways(one, other):
    assert alike(one, other) == alike(other, one)


@given(st.text())
def test_a_name_is_like_itself_unless_it_is_empty(name):
    assert alike(name, name) is bool(name_key(name))


LETTERS = st.text(alphabet="abcdefghij", min_size=5, max_size=12)


@given(LETTERS, st.integers(0, 100), st.sampled_from("abcdefghijxyz"))
def test_one_letter_put_in_taken_out_changed_or_swapped_is_noticed(name, place, letter):
    at = place % len(name)
    put_in = name[:at] + letter + name[at:]
    changed = name[:at] + letter + name[at + 1 :]
    swapped = name[:at] + name[at : at + 2][::-1] + name[at + 2 :]
    assert all(alike(name, other) for other in (put_in, changed, swapped))
    assert alike(put_in, name)


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("Ana Lima", "Lima, Ana", True),
        ("Anne-Marie Roth", "Anne Marie Roth", True),
        ("Marta Olsen", "Marta Olson", True),
        ("Marta Olsen", "Marten Olson", False),
        ("Bo", "Jo", False),
        ("", "", False),
        ("Ida Berg", "Ada Berger", False),
    ],
)
def test_names_of_two_people_are_told_apart(one, other, expected):
    assert alike(one, other) is expected
