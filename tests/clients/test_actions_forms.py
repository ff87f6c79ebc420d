"""The health form by its private link, from the first screen to the signature, and what is stored of it."""

import json
from datetime import date, timedelta

import pytest
from django.db import connection

from clients import actions, models, queries
from clients.rules.outcomes import DeskWord
from studio import models as studio_models
from studio.rules import Refused, Role
from tests import make_clients as make

pytestmark = pytest.mark.django_db
CANARY = "xylograph-canary-7"


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


def standing(client, on=make.TODAY):
    return queries.form_standings([client.pk], on=on)[client.pk]


def test_a_sent_link_is_kept_as_a_digest_and_leaves_through_the_outbox():
    client = make.client(email="ruvena@mail.example")
    made = actions.send_form_link(client.pk, by=None, now=make.NOW)
    notice = studio_models.Notice.objects.get(kind="form_link")
    assert notice.values["link"] == made.address and made.address.startswith("http")
    assert len(made.token) >= 43  # 256 bits in base 64
    assert made.expires_at == make.NOW + timedelta(days=14)
    link = models.FormLink.objects.get()
    assert made.token not in json.dumps([str(value) for value in vars(link).values()])


def test_a_new_link_closes_the_old_one_and_takes_its_unsent_letter_back():
    client = make.client(email="ruvena@mail.example")
    first = actions.send_form_link(client.pk, by=None, now=make.NOW)
    second = actions.send_form_link(client.pk, by=None, now=make.NOW)
    with pytest.raises(actions.LinkGone) as gone:
        actions.open_form(first.token, now=make.NOW)
    assert gone.value.code == "replaced_link"
    assert actions.open_form(second.token, now=make.NOW).client_id == client.pk
    states = studio_models.Notice.objects.order_by("made_at").values_list("state", flat=True)
    assert sorted(states) == ["waiting", "withdrawn"]


def test_a_card_without_an_address_refuses_the_letter_and_makes_no_link():
    client = make.client()
    with pytest.raises(Refused) as refused:
        actions.send_form_link(client.pk, by=None, now=make.NOW)
    assert refused.value.reasons[0].code == "no_address"
    assert not models.FormLink.objects.exists()


@pytest.mark.parametrize(("later", "code"), [(timedelta(days=14), "expired_link"), (timedelta(days=13), None)])
def test_a_link_opens_for_fourteen_days(later, code):
    token = make.link()
    if code is None:
        assert actions.open_form(token, now=make.NOW + later)
        return
    with pytest.raises(actions.LinkGone) as gone:
        actions.open_form(token, now=make.NOW + later)
    assert gone.value.code == code


def test_a_link_that_was_never_made_opens_nothing():
    with pytest.raises(actions.LinkGone) as gone:
        actions.open_form("no-such-token", now=make.NOW)
    assert gone.value.code == "unknown_link"


def test_each_screen_is_kept_as_it_is_saved_and_found_again():
    token = make.link()
    saved = actions.save_screen(token, screen_id="H02", posted={"H02": ["no"]}, now=make.NOW)
    opened = actions.open_form(token, now=make.NOW)
    assert (saved.kept, saved.errors) == ({"H02": "no"}, {})
    assert opened.answers == {"H02": "no"}
    assert opened.at_screen == saved.next_screen == "H03"


def test_good_answers_are_kept_beside_bad_ones():
    token = make.link()
    posted = {"H01.days": ["2"], "H01.minutes": ["many"], "H01.effort": ["light"], "H01.months": ["6"]}
    saved = actions.save_screen(token, screen_id="H01", posted=posted, now=make.NOW)
    assert set(saved.errors) == {"H01.minutes"}
    assert actions.open_form(token, now=make.NOW).answers["H01.months"] == 6


def test_a_screen_the_form_does_not_ask_is_not_there():
    with pytest.raises(models.HealthForm.DoesNotExist):
        actions.save_screen(make.link(), screen_id="H99", posted={}, now=make.NOW)


def test_a_signed_form_is_screened_and_the_desk_reads_form_current():
    client = make.client()
    screening = make.signed_form(client)
    assert (screening.outcome, screening.form.signed_name) == ("clear", "Ruvena Tarnelow")
    assert standing(client) == queries.FormStanding(DeskWord.CURRENT, (), make.TODAY + timedelta(days=364), make.TODAY)
    entry = studio_models.AuditEntry.objects.get(verb="sign_form")
    assert (entry.actor, entry.person) == ("client by link", None)


def test_a_form_runs_out_after_its_twelve_months():
    client = make.client()
    make.signed_form(client)
    over = standing(client, on=make.TODAY + timedelta(days=365))
    assert (over.word, over.missing) == (DeskWord.NOT_CURRENT, ("form",))


def test_an_unfinished_form_cannot_be_signed_and_names_what_is_missing():
    token = make.link()
    actions.save_screen(token, screen_id="H02", posted={"H02": ["no"]}, now=make.NOW)
    with pytest.raises(Refused) as refused:
        actions.sign_form(token, name="Ruvena Tarnelow", signed_as="client", now=make.NOW)
    reasons = refused.value.reasons
    assert {reason.code for reason in reasons} == {"unanswered"}
    assert "H03" in {reason.field for reason in reasons}
    assert not models.Screening.objects.exists()


def test_a_signature_needs_a_name():
    client = make.client()
    with pytest.raises(Refused) as refused:
        make.signed_form(client, signature="  ")
    assert [reason.field for reason in refused.value.reasons] == ["name"]


def test_a_guardian_signs_for_a_minor():
    client = make.client(born_on=date(2010, 3, 17))
    with pytest.raises(Refused) as refused:
        make.signed_form(client)
    assert refused.value.reasons[0].code == "guardian_signs"
    token = actions.make_form_link(client.pk, by=None, now=make.NOW).token
    assert actions.sign_form(token, name="Ebbe Tarnelow", signed_as="guardian", now=make.NOW).outcome == "clear"


def test_a_client_signs_for_herself_on_her_eighteenth_birthday():
    assert make.signed_form(make.client(born_on=date(2008, 3, 16))).outcome == "clear"


def test_a_signed_form_refuses_a_second_tab_and_nothing_changes():
    client = make.client()
    token = actions.make_form_link(client.pk, by=None, now=make.NOW).token
    make.answer(token)
    actions.sign_form(token, name="Ruvena Tarnelow", signed_as="client", now=make.NOW)
    for attempt in (
        lambda: actions.save_screen(token, screen_id="H02", posted={"H02": ["yes"]}, now=make.NOW),
        lambda: actions.sign_form(token, name="Ruvena Tarnelow", signed_as="client", now=make.NOW),
        lambda: actions.open_form(token, now=make.NOW),
    ):
        with pytest.raises(actions.LinkGone) as gone:
            attempt()
        assert gone.value.code == "signed_link"
    assert models.HealthForm.objects.count() == models.Screening.objects.count() == 1


def test_an_answer_changed_after_signing_voids_the_form_at_once_and_signing_makes_the_next_version():
    client = make.client()
    make.signed_form(client)
    later = make.NOW + timedelta(days=30)
    token = actions.make_form_link(client.pk, by=None, now=later).token
    actions.save_screen(token, screen_id="H02", posted={"H02": ["no"]}, now=later)
    assert standing(client).word is DeskWord.CURRENT
    actions.save_screen(token, screen_id="H09", posted={"H09": ["yes"]}, now=later)
    assert standing(client).word is DeskWord.NOT_CURRENT
    make.answer(token, {"H09.conditions": ["C01"]}, now=later)
    screening = actions.sign_form(token, name="Ruvena Tarnelow", signed_as="client", now=later)
    states = list(models.HealthForm.objects.order_by("version").values_list("version", "state"))
    assert states == [(1, "replaced"), (2, "signed")]
    assert screening.outcome == "clear"
    assert {limit.demand for limit in make.limits(screening) if limit.level == "avoid"} == {
        # screening.md section 7, the fourth example, for C01 without C14
        "flex_loaded", "flex_end", "rot_flex", "neck_weight", "rolling",
    }  # fmt: skip


def test_the_emergency_answer_stops_the_form_and_reaches_the_desk_without_a_signature():
    client = make.client()
    token = actions.make_form_link(client.pk, by=None, now=make.NOW).token
    first = actions.open_form(token, now=make.NOW)
    safety = make.due(first)[0]
    posted = {field.id: ["no"] for field in safety.fields} | {safety.fields[0].id: ["yes"]}
    saved = actions.save_screen(token, screen_id=safety.id, posted=posted, now=make.NOW)
    assert saved.is_emergency and saved.next_screen == "emergency"
    assert standing(client).word is DeskWord.SPEAK
    with pytest.raises(Refused) as refused:
        actions.sign_form(token, name="Ruvena", signed_as="client", now=make.NOW)
    assert refused.value.reasons[0].code == "emergency"


def test_a_letter_is_the_missing_paper_of_a_client_who_needs_one_first():
    client = make.client()
    assert make.signed_form(client, {"S6": ["yes"]}).outcome == "refer"
    assert (standing(client).word, standing(client).missing) == (DeskWord.NOT_CURRENT, ("letter",))


def test_a_draft_lacks_the_form_and_one_read_to_its_end_only_the_signature():
    client = make.client()
    token = actions.make_form_link(client.pk, by=None, now=make.NOW).token
    assert standing(client).missing == ("form",)
    actions.save_screen(token, screen_id="H02", posted={"H02": ["no"]}, now=make.NOW)
    assert standing(client).missing == ("form",)
    make.answer(token)
    assert standing(client).missing == ("signature",)


def test_how_it_is_today_is_asked_again_when_the_form_is_signed_on_another_day():
    token = make.link()
    make.answer(token)
    tomorrow = make.NOW + timedelta(days=1)
    with pytest.raises(Refused) as refused:
        actions.sign_form(token, name="Ruvena Tarnelow", signed_as="client", now=tomorrow)
    asked = {reason.field for reason in refused.value.reasons}
    assert "H17" in asked and "H02" not in asked
    make.answer(token, now=tomorrow)
    assert actions.sign_form(token, name="Ruvena Tarnelow", signed_as="client", now=tomorrow).outcome == "clear"


def test_a_condition_told_once_stays_in_force_until_a_named_person_settles_it():
    teacher, client = make.person(Role.INSTRUCTOR), make.client()
    make.signed_form(client, {"H09": ["yes"], "H09.conditions": ["C01"]})
    later = make.NOW + timedelta(days=300)
    second = make.signed_form(client, {"H09": ["no"]}, now=later)
    assert ("rolling", "avoid") in {(limit.demand, limit.level) for limit in make.limits(second)}
    record = models.ConditionRecord.objects.get()
    assert make.condition(record).condition_id == "C01"
    third = actions.settle_condition(record.pk, by=teacher, now=later, why="she says it is over")
    assert not make.limits(third)
    record.refresh_from_db()
    assert (record.state, record.settled_by) == ("settled", teacher)
    assert actions.settle_condition(record.pk, by=teacher, now=later, why="again") is None


def test_what_the_form_in_force_tells_is_settled_only_by_saying_whose_word_it_is():
    teacher, client = make.person(Role.INSTRUCTOR), make.client()
    make.signed_form(client, {"H09": ["yes"], "H09.conditions": ["C01"]})
    record, ask = models.ConditionRecord.objects.get(), {"by": teacher, "now": make.NOW, "why": "a look"}
    with pytest.raises(Refused) as refused:
        actions.settle_condition(record.pk, **ask)
    assert refused.value.reasons[0].code == "whose_word"
    assert not make.limits(actions.settle_condition(record.pk, whose_word="letter", **ask))
    assert not make.limits(make.screened_again(client))


def test_a_form_told_to_staff_is_signed_by_them_for_the_client():
    desk, client = make.person(Role.DESK), make.client()
    token = actions.make_form_link(client.pk, by=desk, now=make.NOW).token
    make.answer(token)
    answers = actions.open_form(token, now=make.NOW).answers
    screening = actions.write_form(client.pk, answers=answers, name="Ruvena Tarnelow", by=desk, now=make.NOW)
    assert (screening.form.version, screening.form.signed_as, screening.outcome) == (1, "staff", "clear")
    assert studio_models.AuditEntry.objects.get(verb="sign_form").person == desk


def test_own_words_are_nowhere_in_the_tables_but_sealed():
    client = make.client(email="ruvena@mail.example")
    actions.send_form_link(client.pk, by=None, now=make.NOW)
    make.signed_form(client, {"H18": [f"to carry {CANARY}"], "H15.words": [CANARY]})
    make.signed_form(client, {"H18": [f"to carry {CANARY} again"], "H09": ["yes"], "H09.conditions": ["C01"]})
    teacher = make.person(Role.INSTRUCTOR)
    told = actions.read_brief(client.pk, by=teacher, now=make.NOW, why="a look")
    assert any(CANARY in words for _, words in told.own_words)
    assert _tables_that_hold(CANARY) == []
    # The same search finds what is not sealed, so an empty answer means something.
    assert "clients_client" in _tables_that_hold("Ruvena Tarnelow")


def test_reasons_of_a_screening_are_sealed():
    make.signed_form(make.client(), {"S6": ["yes"]})
    assert _tables_that_hold("palpitations", but={"clients_ruleset"}) == []
    assert _tables_that_hold("A sign was told", but={"clients_ruleset"}) == []


def test_a_sealed_row_moved_to_another_client_does_not_open():
    one, other = make.client("Ruvena Tarnelow"), make.client("Dunmaro Oyelisk")
    first, second = make.signed_form(one).form, make.signed_form(other).form
    models.HealthForm.objects.filter(pk=second.pk).update(sealed_answers=first.sealed_answers)
    with pytest.raises(Exception, match="another key"):
        actions.read_brief(other.pk, by=make.person(Role.OWNER), now=make.NOW, why="audit")


def test_standings_cost_the_same_for_one_and_for_many(django_assert_num_queries):
    names = ["Ruvena Tarnelow", "Dunmaro Oyelisk", "Farzeen Tolmandi", "Iselde Brannock", "Ebbe Quillen"]
    clients = [make.client(name) for name in names]
    make.signed_form(clients[0])
    make.signed_form(clients[1])
    for some in (clients[:1], clients[:2]):
        with django_assert_num_queries(1):
            queries.form_standings([client.pk for client in some], on=make.TODAY)
    for some in (clients[2:3], clients):
        with django_assert_num_queries(2):
            assert len(queries.form_standings([client.pk for client in some], on=make.TODAY)) == len(some)
    assert queries.form_standings([], on=make.TODAY) == {}


def _tables_that_hold(text, *, but=frozenset()):
    """Tables with a row whose every column, written out as the server dumps it, holds the text (or its hex)."""
    in_hex = text.encode().hex()
    found = []
    with connection.cursor() as cursor:
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
        for (table,) in cursor.fetchall():
            cursor.execute(
                f'SELECT count(*) FROM "{table}" AS t WHERE strpos(t::text, %s) > 0 OR strpos(t::text, %s) > 0',
                [text, in_hex],
            )
            if cursor.fetchone()[0] and table not in but:
                found.append(table)
    return found
