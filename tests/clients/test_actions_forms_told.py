"""A form typed in as told, agreements under it, two tablets on one form, and a card that is not what was read."""

from datetime import date, timedelta

import pytest

from clients import actions, models, queries
from studio import models as studio_models
from studio.rules import Refused, Role
from tests import make_clients as make
from tests import reference

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def rules(db):
    make.load_reference()


@pytest.fixture
def teacher(db):
    return make.person(Role.INSTRUCTOR, name="Henrike Aldous", email="henrike@studio.example")


@pytest.fixture
def ruvena(teacher):
    client = make.client(born_on=date(1980, 5, 3))
    make.care(client, teacher)
    return client


def typed_in(client, teacher, told=None, now=make.NOW):
    token = actions.type_in_form(client.pk, by=teacher, now=now).token
    make.answer(token, told, now=now, by=teacher)
    return token


def sign(token, now=make.NOW, **words):
    return actions.sign_form(token, **({"name": "Ruvena Tarnelow", "signed_as": "client", "now": now} | words))


def codes(refused):
    return [(reason.code, reason.field) for reason in refused.value.reasons]


def save(token, screen_id, now=make.NOW, saves=None, **told):
    posted = {name.replace("__", "."): [words] for name, words in told.items()}
    return actions.save_screen(token, screen_id=screen_id, posted=posted, now=now, saves=saves)


# --- as told ----------------------------------------------------------------------------------------------------------
def test_a_paper_form_is_signed_as_told_to_staff_with_the_name_and_the_day_on_the_paper(ruvena, teacher):
    token = typed_in(ruvena, teacher)
    paper = make.TODAY - timedelta(days=20)
    screening = sign(token, by=teacher, on_paper_of=paper)
    form = screening.form
    assert (form.signed_as, form.signed_name, form.told_to) == ("staff", "Ruvena Tarnelow", teacher)
    assert (form.on_paper_of, form.whole_on) == (paper, paper)
    assert screening.valid_until == paper + timedelta(days=364), "its year counts from the day on the paper"


def test_every_deed_on_a_typed_in_form_is_kept_in_the_name_of_her_who_typed(ruvena, teacher):
    sign(typed_in(ruvena, teacher), by=teacher)
    deeds = studio_models.AuditEntry.objects.filter(verb__in=["open_form", "save_form", "sign_form", "screen"])
    assert deeds.count() > 20 and not deeds.exclude(person=teacher, actor="").exists()
    assert studio_models.AuditEntry.objects.get(verb="type_in_form").why == "care"


@pytest.mark.parametrize("role", [Role.DESK, Role.OWNER, Role.INSTRUCTOR])
def test_a_typed_in_form_opens_for_nobody_else(ruvena, teacher, role):
    token = actions.type_in_form(ruvena.pk, by=teacher, now=make.NOW).token
    for by in (None, make.person(role, name="Odalys Venn", email="odalys@studio.example")):
        with pytest.raises(actions.LinkGone) as gone:
            actions.open_form(token, now=make.NOW, by=by)
        assert gone.value.code == "told_link"


def test_only_those_who_may_read_it_type_it_in(ruvena):
    desk, owner = make.person(Role.DESK), make.person(Role.OWNER, name="Teodora Quist", email="t@studio.example")
    for by, code in ((desk, "not_open"), (owner, "say_why")):
        with pytest.raises(Refused) as refused:
            actions.type_in_form(ruvena.pk, by=by, now=make.NOW)
        assert codes(refused)[0][0] == code
    actions.type_in_form(ruvena.pk, by=owner, now=make.NOW, why="paper from the front desk")
    assert studio_models.AuditEntry.objects.get(verb="type_in_form").why == "paper from the front desk"


@pytest.mark.parametrize(
    ("paper", "word"),
    [
        (make.TODAY + timedelta(days=1), "still to come"),
        (make.TODAY - timedelta(days=365), "holds no longer"),
        (date(1980, 5, 2), "before the client was born"),
    ],
)
def test_a_day_on_paper_that_cannot_be_is_asked_back(ruvena, teacher, paper, word):
    token = typed_in(ruvena, teacher)
    with pytest.raises(Refused) as refused:
        sign(token, by=teacher, on_paper_of=paper)
    assert codes(refused) == [("paper_day", "on_paper_of")] and word in refused.value.reasons[0].says


def test_a_client_cannot_date_her_own_form_back(ruvena):
    token = actions.make_form_link(ruvena.pk, by=None, now=make.NOW).token
    make.answer(token)
    screening = sign(token, on_paper_of=make.TODAY - timedelta(days=20))
    assert (screening.form.on_paper_of, screening.form.whole_on) == (None, make.TODAY)


# --- agreements -------------------------------------------------------------------------------------------------------
def test_each_agreement_stands_for_itself_and_none_is_taken_for_granted(ruvena):
    token = actions.make_form_link(ruvena.pk, by=None, now=make.NOW).token
    make.answer(token)
    screening = sign(token, consents={"touch": True, "messages": False})
    given = {line.kind: (line.is_open, line.given_by) for line in queries.consents_of(ruvena.pk)}
    assert given == {"touch": (True, "Ruvena Tarnelow"), "photographs": (False, ""), "messages": (False, "")}
    assert models.Consent.objects.get().form == screening.form


def test_an_agreement_is_taken_back_on_the_next_form_and_silence_leaves_it(ruvena):
    later = make.NOW + timedelta(days=30)
    make.signed_form(ruvena)
    for kind in ("touch", "photographs"):
        actions.give_consent(ruvena.pk, kind=kind, given_by="Ruvena Tarnelow", by=None, now=make.NOW)
    token = actions.make_form_link(ruvena.pk, by=None, now=later).token
    make.answer(token, now=later)
    sign(token, now=later, consents={"touch": False})
    assert {line.kind: line.is_open for line in queries.consents_of(ruvena.pk)} == {
        "touch": False, "photographs": True, "messages": False,
    }  # fmt: skip


def test_a_refused_signature_agrees_to_nothing(ruvena):
    token = actions.make_form_link(ruvena.pk, by=None, now=make.NOW).token
    make.answer(token)
    with pytest.raises(Refused):
        sign(token, name=" ", consents={"touch": True})
    assert not models.Consent.objects.exists()


# --- two tablets ------------------------------------------------------------------------------------------------------
def test_what_another_tablet_wrote_on_the_same_screen_is_shown_and_not_overwritten():
    token = make.link()
    save(token, "H02", saves=0, H02="no")
    stale = save(token, "H02", saves=0, H02="yes")
    assert stale.meanwhile == {"H02": "No"} and not stale.kept
    assert actions.open_form(token, now=make.NOW).answers["H02"] == "no"
    told = save(token, "H02", saves=actions.open_form(token, now=make.NOW).saves, H02="yes")
    assert told.meanwhile == {} and actions.open_form(token, now=make.NOW).answers["H02"] == "yes"


def test_two_tablets_on_different_screens_do_not_disturb_each_other():
    token = make.link()
    save(token, "H02", saves=0, H02="no")
    assert save(token, "H03", saves=0, H03="no").meanwhile == {}
    assert actions.open_form(token, now=make.NOW).answers == {"H02": "no", "H03": "no"}


def test_the_same_answer_sent_twice_is_one_answer():
    token = make.link()
    first, second = (save(token, "H02", saves=0, H02="no") for _ in range(2))
    assert (first.next_screen, second.meanwhile) == (second.next_screen, {})


def test_help_is_never_held_up_by_a_stale_page():
    token = make.link()
    quiet = {f"F{number}": "no" for number in (18, 19, 20, 21, 22)}
    save(token, "safety", saves=0, **quiet)
    assert save(token, "safety", saves=0, **quiet | {"F20": "yes"}).is_emergency


def test_a_card_that_changed_after_it_was_opened_is_read_once_more_before_it_is_signed():
    token = make.link()
    make.answer(token)
    opened = actions.open_form(token, now=make.NOW)
    read = actions.Read(opened.saves, opened.rules_id)
    save(token, "H18", H18="to dance", H18__intensity="light_moderate")
    with pytest.raises(Refused) as refused:
        sign(token, read=read)
    assert codes(refused) == [("changed_meanwhile", "")] and "an answer was changed" in refused.value.reasons[0].says
    opened = actions.open_form(token, now=make.NOW)
    assert sign(token, read=actions.Read(opened.saves, opened.rules_id)).outcome == "clear"


def other_rules():
    """The studio puts other questions in force: one sign is asked in other words."""
    tables = reference.tables()
    tables["symptoms"][0]["question"] = "Does your chest hurt?"
    make.put_in_force(tables)


def test_a_form_opened_yesterday_is_read_once_more_after_the_questions_changed_and_then_signed_by_the_new_ones():
    token = make.link()
    make.answer(token)
    yesterday = actions.open_form(token, now=make.NOW)
    other_rules()
    today = make.NOW + timedelta(days=1)
    with pytest.raises(Refused) as refused:
        sign(token, now=today, read=actions.Read(yesterday.saves, yesterday.rules_id))
    assert "the questions were changed" in refused.value.reasons[0].says
    make.answer(token, now=today)
    opened = actions.open_form(token, now=today)
    found = sign(token, now=today, read=actions.Read(opened.saves, opened.rules_id))
    assert found.rule_set_id == opened.rules_id != yesterday.rules_id


def test_a_paper_is_typed_in_from_nothing_and_not_over_earlier_answers(ruvena, teacher):
    make.signed_form(ruvena, {"H09": ["yes"], "H09.conditions": ["C01"]})
    token = actions.type_in_form(ruvena.pk, by=teacher, now=make.NOW).token
    assert actions.open_form(token, now=make.NOW, by=teacher).answers == {}


def test_what_the_client_began_is_gone_on_with_by_whoever_types_in(ruvena, teacher):
    token = actions.make_form_link(ruvena.pk, by=None, now=make.NOW).token
    save(token, "H02", H02="no")
    token = actions.type_in_form(ruvena.pk, by=teacher, now=make.NOW).token
    assert actions.open_form(token, now=make.NOW, by=teacher).answers == {"H02": "no"}


# --- what does not go together ----------------------------------------------------------------------------------------
def test_answers_that_do_not_go_together_are_kept_asked_back_and_not_signed():
    token = make.link()
    told = {"H10": ["no"], "H13": ["birth"], "H13.birth": ["2026-01-10"], "H13.way": ["caesarean"]}
    make.answer(token, told)
    with pytest.raises(Refused) as refused:
        sign(token)
    assert codes(refused) == [("doubt", "H10")]
    assert actions.open_form(token, now=make.NOW).answers["H10"] == "no", "nothing is put right by itself"
    make.answer(token, told | {"H10": ["yes"], "H10.conditions": ["C23"], "C23.since": ["2026-01-10"]})
    assert sign(token)


def test_a_screen_that_does_not_add_up_is_asked_back_beside_its_field_and_the_rest_is_kept():
    token = make.link()
    week = {"H01__days": "0", "H01__minutes": "45", "H01__effort": "light", "H01__months": "2"}
    saved = save(token, "H01", **week)
    assert set(saved.errors) == {"H01.days"} and saved.kept["H01.minutes"] == 45
    assert "H01.days" not in actions.open_form(token, now=make.NOW).answers


def test_weeks_told_today_are_a_due_date_tomorrow():
    token = make.link()
    make.answer(token, {"H13": ["pregnant"], "H13.due": [""], "H13.weeks": ["12"]})
    tomorrow = make.NOW + timedelta(days=7)
    opened = actions.open_form(token, now=tomorrow)
    assert opened.answers["H13.due"] == (make.TODAY + timedelta(weeks=28)).isoformat()
    assert opened.answers["H13.weeks"] is None
