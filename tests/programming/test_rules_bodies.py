"""Notes of a client's build, and the set-ups they choose."""

import pytest

from programming.rules import bodies
from programming.rules.bodies import BodyFacts
from tests.reference import table

SETUPS = [row for row in table("ladders") if row["kind"] == "setup"]


@pytest.mark.parametrize("row", SETUPS, ids=lambda row: row["code"])
def test_every_set_up_of_the_reference_is_for_everybody_or_reached_by_a_note(row):
    assert row["when_seen"] == "always" or bodies.notes_for(row["when_seen"])


@pytest.mark.parametrize("note", bodies.NOTES, ids=lambda note: note.key)
def test_every_note_and_each_of_its_phrases_chooses_some_set_up(note):
    seen = [row["when_seen"] for row in SETUPS]
    for phrase in note.seen:
        assert any(phrase in words for words in seen), phrase
    assert any(bodies.chooses(words, {note.key}) for words in seen)


@pytest.mark.parametrize(
    ("notes", "codes"),
    [
        (set(), {"CO-S3", "SS-S1", "RU-S5"}),
        ({"tall"}, {"CO-S3", "SS-S1", "RU-S5", "FW-S1", "SS-S2"}),
        ({"light"}, {"CO-S3", "SS-S1", "RU-S5", "LS-S3", "SM-S6", "SS-S5", "KA-S5", "TE-S4"}),
        ({"stiff_toes", "weak_grip"}, {"CO-S3", "SS-S1", "RU-S5", "LS-S6", "KN-S4", "HU-S3", "PS-S4", "RU-S3"}),
    ],
)
def test_a_body_gets_its_own_set_ups_and_no_others(notes, codes):
    assert {row["code"] for row in SETUPS if bodies.chooses(row["when_seen"], notes)} == codes


def test_notes_are_told_in_words_in_the_order_of_the_list():
    assert bodies.words_of({"stiff_toes", "tall"}) == ("tall", "stiff toes")


def test_every_key_stands_once_and_in_a_group_of_the_page():
    assert len(bodies.BY_KEY) == len(bodies.NOTES)
    assert {note.group for note in bodies.NOTES} == set(bodies.GROUPS)


@pytest.mark.parametrize(
    ("facts", "codes"),
    [
        (BodyFacts(), set()),
        (BodyFacts(frozenset({"tall"}), 1840, 1180, None, "female"), set()),
        (BodyFacts(frozenset({"tall", "short"})), {"contrary"}),
        (BodyFacts(frozenset({"green"})), {"unknown_note"}),
        (BodyFacts(stature_mm=170), {"out_of_range"}),
        (BodyFacts(leg_mm=4000), {"out_of_range"}),
        (BodyFacts(stature_mm=1700, leg_mm=500), {"leg_share"}),
        (BodyFacts(sex="x"), {"sex"}),
    ],
)
def test_what_cannot_be_of_one_body_is_refused(facts, codes):
    assert {reason.code for reason in bodies.refusals(facts)} == codes
