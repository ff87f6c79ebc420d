"""A clinician's letter from the desk to the screening: who may read it, what it does, how long, and who undoes it."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.conf import settings

from clients import actions, models
from clients.actions import files, nightly
from clients.rules.sealing import SealBroken
from clients.rules.terms import Entered
from studio import models as studio_models
from studio.rules import Refused, Role
from tests import make_clients as make
from tests import papers

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
CANARY = "turmeric-lantern"


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture
def desk():
    return make.person(Role.DESK)


@pytest.fixture
def teacher():
    return make.person(Role.INSTRUCTOR, name="Henrike Aldous")


@pytest.fixture
def owner():
    return make.person(Role.OWNER)


@pytest.fixture
def waits(teacher):
    """A client with a racing heart and thin bones: a letter comes first, and turning is limited."""
    client = make.client(email="ruvena@mail.example")
    client.usual_instructor = teacher
    client.save()
    make.signed_form(client, {"S6": ["yes"], "H09": ["yes"], "H09.conditions": ["C01"]})
    return client


def standing(client):
    return client.screenings.get(replaced_at=None)


def handed_in(client, by, *, words=CANARY, now=make.NOW):
    return actions.hand_in(client.pk, pages=[papers.pdf(words)], routed_to=None, by=by, now=now)


def asked(letter, teacher, now=make.NOW):
    return actions.read_letter(letter.pk, by=teacher, now=now).asks


def whole(letter, teacher, **changes):
    """Everything that is asked, answered by somebody named, a day ago."""
    answers = frozenset(one.rule_id for one in asked(letter, teacher))
    entered = Entered("Ondine Marsh", "physician", make.TODAY - DAY, answers=answers, words=CANARY)
    return replace(entered, **changes)


def confirmed(client, desk, teacher, *, now=make.NOW, **changes):
    letter = handed_in(client, desk, now=now)
    return actions.confirm_letter(letter.pk, entered=whole(letter, teacher, **changes), by=teacher, now=now)


def refused(deed):
    with pytest.raises(Refused) as found:
        deed()
    return [one.code for one in found.value.reasons]


def demands(client):
    return {limit.demand: limit.level.value for limit in make.limits(standing(client))}


# --- handing in -------------------------------------------------------------------------------------------------------
def test_a_letter_that_came_changes_nothing_and_lies_with_the_usual_teacher(waits, desk, teacher):
    before = standing(waits)
    letter = handed_in(waits, desk)
    assert (letter.state, letter.routed_to) == ("unread", teacher)
    assert standing(waits).pk == before.pk and before.outcome == "refer"


def test_the_desk_sees_its_letter_come_and_nothing_of_it_afterwards(waits, desk):
    letter = handed_in(waits, desk)
    assert refused(lambda: actions.read_letter(letter.pk, by=desk, now=make.NOW, why="I kept it")) == ["not_open"]
    assert refused(lambda: actions.read_file(letter.file_id, by=desk, now=make.NOW, why="I kept it")) == ["not_open"]
    assert not studio_models.AuditEntry.objects.filter(person=desk, kind="read").exists()


def test_the_teacher_is_told_that_a_paper_waits_without_a_name_or_a_word_of_health(waits, desk, teacher):
    handed_in(waits, desk)
    told = studio_models.Notice.objects.get(kind="letter_arrived")
    assert (told.contact.address, told.values) == (teacher.email, {"name": teacher.name})


def test_whoever_a_letter_is_laid_before_may_read_it_until_she_has_and_nobody_else(waits, desk, teacher):
    other = make.person(Role.INSTRUCTOR)
    letter = handed_in(waits, desk)
    assert refused(lambda: actions.read_letter(letter.pk, by=other, now=make.NOW)) == ["say_why"]
    entered = whole(letter, teacher)
    actions.confirm_letter(letter.pk, entered=entered, by=teacher, now=make.NOW)
    assert refused(lambda: actions.read_letter(letter.pk, by=teacher, now=make.NOW)) == ["say_why"]


def test_nobody_opens_a_clients_health_by_laying_a_paper_before_herself(waits):
    curious = make.person(Role.INSTRUCTOR)
    letter = actions.hand_in(waits.pk, pages=[papers.pdf()], routed_to=curious.pk, by=curious, now=make.NOW)
    assert letter.routed_to == curious
    assert refused(lambda: actions.read_letter(letter.pk, by=curious, now=make.NOW)) == ["say_why"]


def test_a_letter_is_laid_before_somebody_else_and_the_first_may_read_no_more(waits, desk, teacher):
    other, letter = make.person(Role.INSTRUCTOR), handed_in(waits, desk)
    actions.route_letter(letter.pk, to=other.pk, by=desk, now=make.NOW)
    assert actions.read_letter(letter.pk, by=other, now=make.NOW).state == "unread"
    assert refused(lambda: actions.read_letter(letter.pk, by=teacher, now=make.NOW)) == ["say_why"]
    assert refused(lambda: actions.route_letter(letter.pk, to=desk.pk, by=desk, now=make.NOW)) == ["no_teacher"]


def test_a_file_that_is_none_of_the_three_kinds_leaves_nothing_behind(waits, desk):
    before = sorted(settings.FILES_DIR.rglob("*"))
    assert refused(lambda: actions.hand_in(waits.pk, pages=[b"PK\x03\x04"], routed_to=None, by=desk, now=make.NOW)) == [
        "unknown_kind"
    ]
    assert not models.Letter.objects.exists() and sorted(settings.FILES_DIR.rglob("*")) == before


# --- the file ---------------------------------------------------------------------------------------------------------
def test_a_file_on_the_disk_holds_no_readable_byte_of_it_and_is_nobody_elses_to_read(waits, desk, teacher):
    content = papers.pdf_with_open_action(f"[3 0 R /Fit] /Note ({CANARY})")
    assert CANARY.encode() in content
    letter = actions.hand_in(waits.pk, pages=[content], routed_to=None, by=desk, now=make.NOW)
    path = files.path_of(letter.file_id)
    blob = path.read_bytes()
    assert CANARY.encode() not in blob and b"PDF" not in blob
    assert path.stat().st_mode & 0o077 == 0
    opened = actions.read_file(letter.file_id, by=teacher, now=make.NOW)
    assert (opened.content, opened.media_type) == (content, "application/pdf")
    assert opened.name == "letter-2026-03-16-1.pdf"


def test_a_file_put_in_the_place_of_another_does_not_open(waits, desk, teacher):
    one, two = handed_in(waits, desk), handed_in(waits, desk, words="another")
    files.path_of(one.file_id).write_bytes(files.path_of(two.file_id).read_bytes())
    with pytest.raises(SealBroken):
        actions.read_file(one.file_id, by=teacher, now=make.NOW)


def test_each_look_at_a_page_is_recorded_and_the_reason_given_for_the_letter_counts_for_its_pages(waits, desk, owner):
    pages = [papers.photograph(60, 40), papers.photograph(60, 41)]
    letter = actions.hand_in(waits.pk, pages=pages, routed_to=None, by=desk, now=make.NOW)
    second = letter.file.further_pages.get()
    assert refused(lambda: actions.read_file(second.pk, by=owner, now=make.NOW)) == ["say_why"]
    actions.read_letter(letter.pk, by=owner, now=make.NOW, why="Henrike is away")
    actions.read_file(second.pk, by=owner, now=make.NOW + timedelta(minutes=5))
    look = studio_models.AuditEntry.objects.get(verb="read_file", key=str(second.pk))
    assert (look.person, look.why, look.client_key) == (owner, "Henrike is away", waits.pk)
    later = make.NOW + timedelta(minutes=31)
    assert refused(lambda: actions.read_file(second.pk, by=owner, now=later)) == ["say_why"]


# --- what it does -----------------------------------------------------------------------------------------------------
def test_a_whole_letter_answers_what_it_names_and_the_gate_comes_back_the_day_after_its_last(waits, desk, teacher):
    letter = confirmed(waits, desk, teacher)
    assert letter.holds_until == make.TODAY - DAY + timedelta(days=182)
    found = standing(waits)
    assert found.outcome == "clear_limited" and found.asked_for == "letter"
    assert found.look_again_on is not None and found.look_again_on <= letter.holds_until + DAY
    assert not models.LetterRequest.objects.filter(client=waits, closed_at=None).exists()
    day = found.look_again_on
    while day <= letter.holds_until + DAY and standing(waits).outcome != "refer":
        nightly.look_again(now=make.NOW + (day - make.TODAY))
        day = standing(waits).look_again_on
    assert standing(waits).outcome == "refer"
    assert standing(waits).decided_at.date() == letter.holds_until + DAY
    assert models.LetterRequest.objects.filter(client=waits, closed_at=None).count() == 1


def test_its_own_last_day_counts_when_it_names_one(waits, desk, teacher):
    assert confirmed(waits, desk, teacher, until=date(2026, 4, 1)).holds_until == date(2026, 4, 1)


def test_it_relaxes_the_movement_it_names_and_no_other(waits, desk, teacher):
    before = demands(waits)
    assert before["rotation"] == "adapt" and before["rolling"] == "avoid"
    confirmed(waits, desk, teacher, allows=frozenset({"rotation"}))
    after = demands(waits)
    assert after == {name: level for name, level in before.items() if name != "rotation"}


def test_what_it_leaves_out_stays_after_its_day_until_somebody_ends_it_by_name(waits, desk, teacher, owner):
    letter = confirmed(waits, desk, teacher, forbids=frozenset({"balance"}), until=make.TODAY + 10 * DAY)
    assert demands(waits)["balance"] == "avoid"
    later = make.NOW + 20 * DAY
    nightly.look_again(now=later)
    assert demands(waits)["balance"] == "avoid" and standing(waits).outcome == "refer"
    actions.end_letter(letter.pk, by=owner, now=later, why="the surgeon wrote that it is over")
    assert demands(waits)["balance"] == "watch"
    letter.refresh_from_db()
    assert (letter.ended_by, letter.ended_at) == (owner, later)
    assert actions.end_letter(letter.pk, by=owner, now=later, why="again") is None


def test_an_undated_unnamed_letter_tightens_only(waits, desk, teacher):
    letter = handed_in(waits, desk)
    loose = Entered(answers=frozenset(one.rule_id for one in asked(letter, teacher)))
    with pytest.raises(Refused):
        actions.confirm_letter(letter.pk, entered=loose, by=teacher, now=make.NOW)
    tight = Entered(forbids=frozenset({"balance"}))
    actions.confirm_letter(letter.pk, entered=tight, by=teacher, now=make.NOW)
    assert demands(waits)["balance"] == "avoid" and standing(waits).outcome == "refer"


def test_a_sign_told_after_the_letter_is_not_answered_by_it(waits, desk, teacher):
    confirmed(waits, desk, teacher)
    assert standing(waits).outcome == "clear_limited"
    later = make.NOW + DAY
    make.signed_form(waits, {"S1": ["yes"], "S6": ["yes"], "H09": ["yes"], "H09.conditions": ["C01"]}, now=later)
    assert standing(waits).outcome == "refer"


def test_what_is_read_back_is_what_confirming_does(waits, desk, teacher):
    letter = handed_in(waits, desk)
    entered = whole(letter, teacher, allows=frozenset({"rotation"}), forbids=frozenset({"balance"}))
    before = standing(waits)
    _, does = actions.read_back(letter.pk, entered=entered, by=teacher, now=make.NOW)
    assert standing(waits).pk == before.pk and models.Letter.objects.get().state == "unread"
    assert (does.outcome_before, does.outcome_after) == ("refer", "clear_limited")
    assert any(line.startswith("Trunk turn: no limit until ") for line in does.lifted)
    assert does.added == ("Balance or fall height: left out.",)
    assert any("until one of you ends it" in line for line in does.stays)
    actions.confirm_letter(letter.pk, entered=entered, by=teacher, now=make.NOW)
    assert standing(waits).outcome == does.outcome_after


def test_a_letter_set_aside_keeps_its_reason_sealed_and_does_nothing(waits, desk, teacher, owner):
    letter = handed_in(waits, desk)
    assert refused(lambda: actions.set_aside(letter.pk, because=" ", by=teacher, now=make.NOW)) == ["missing"]
    actions.set_aside(letter.pk, because=f"not hers, {CANARY}", by=teacher, now=make.NOW)
    assert standing(waits).outcome == "refer"
    found = actions.read_letter(letter.pk, by=owner, now=make.NOW, why="looking")
    assert (found.state, found.set_aside_why, found.read_by) == ("set_aside", f"not hers, {CANARY}", teacher.name)
    assert refused(lambda: actions.end_letter(letter.pk, by=owner, now=make.NOW, why="x")) == ["not_confirmed"]


def test_terms_lie_sealed_in_their_row(waits, desk, teacher):
    letter = confirmed(waits, desk, teacher)
    letter.refresh_from_db()
    blob = bytes(letter.sealed_terms)
    assert CANARY.encode() not in blob and b"Ondine" not in blob


def test_a_letter_may_come_before_the_first_form_and_counts_from_it_on(desk, teacher):
    client = make.client("Orsolin Teague")
    letter = actions.hand_in(client.pk, pages=[papers.pdf()], routed_to=teacher.pk, by=desk, now=make.NOW)
    tight = Entered(forbids=frozenset({"balance"}))
    _, does = actions.read_back(letter.pk, entered=tight, by=teacher, now=make.NOW)
    assert (does.outcome_before, does.added) == (None, ("Balance or fall height: left out.",))
    actions.confirm_letter(letter.pk, entered=tight, by=teacher, now=make.NOW)
    make.signed_form(client, signature=client.name)
    assert demands(client) == {"balance": "avoid"}
