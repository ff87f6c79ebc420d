"""A record in words: every cell that says something is told once, and keys that say nothing are left out."""

from clients.rules.record import lines

KEY = "411751d3-96f7-4b0b-b058-a4f416d1ec7b"
WORDS = {"C38": "Carpal tunnel", "H08": "Joints", "wrist_wb": "Weight on the wrists", "R-SB2": "Short box, second"}


def told(**row: object) -> list[tuple[str, str]]:
    return list(lines(row, WORDS))


def test_a_column_is_told_by_its_name_and_a_known_key_by_what_it_is_called():
    assert told(exercise="R-SB2", last_on="2026-03-12") == [
        ("exercise", "Short box, second"),
        ("last on", "2026-03-12"),
    ]


def test_keys_of_other_rows_and_empty_cells_are_left_out():
    assert told(id=1, client=KEY, follows=KEY, noted_by=None, words="", sides=[]) == []


def test_zero_and_no_are_answers_and_stay():
    assert told(score=0, is_held=False, is_treated=True) == [
        ("score", "0"),
        ("is held", "no"),
        ("is treated", "yes"),
    ]


def test_what_is_nested_is_told_on_lines_of_its_own_by_the_questions_topic():
    answers = {"H08": "yes", "H08.conditions": ["C38", "other"]}
    assert told(answers=answers, limits=[{"demand": "wrist_wb"}]) == [
        ("Joints", "yes"),
        ("Joints, conditions", "Carpal tunnel, other"),
        ("limits 1, demand", "Weight on the wrists"),
    ]


def test_of_a_fitted_line_the_changed_form_and_its_why_are_told_and_not_the_exercises_demands():
    line = {"form": "fists", "why": [{"demand": "wrist_wb", "source_ids": ["x"]}], "demands": ["wrist_wb"]}
    assert told(fit={"limits": "a" * 64, "lines": {"1": line}}) == [
        ("fit, lines, 1, form", "fists"),
        ("fit, lines, 1, why 1, demand", "Weight on the wrists"),
    ]
    assert told(terms={"demands": ["wrist_wb"]}) == [("terms, demands", "Weight on the wrists")]


def test_an_instant_is_told_to_the_minute():
    assert told(marked_at="2026-03-12T10:15:03.25+00:00") == [("marked at", "2026-03-12 10:15")]
