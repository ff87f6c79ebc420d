"""The outbox: what is put into it leaves once, by a real SMTP conversation, or says why it did not."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from hypothesis import given
from hypothesis import strategies as st

from studio import models, queries
from studio.actions import notices
from studio.rules import Refused
from studio.rules import notices as rules
from studio.rules.notice_texts import DEFAULT_WORDS
from tests import make
from tests.make import NOW
from tests.post import PostOffice

State = models.Notice.State
SOON = timedelta(minutes=3)


def put(**changed: Any) -> models.Notice | None:
    fields: dict[str, Any] = {
        "kind": "form_link",
        "contact": changed.pop("contact", None) or make.contact(address="ada@mail.example"),
        "values": {"name": "Ada", "link": "http://house.example/form/secret/"},
        "about": "client:1",
        "once": "form_link:1",
        "due_at": NOW,
        "now": NOW,
    }
    return notices.put(**{**fields, **changed})


# --- words ----------------------------------------------------------------------------------------------------------


@given(st.text(), st.dictionaries(st.text(max_size=5), st.text(max_size=5)))
def test_no_text_of_the_owner_ever_raises(text, values):
    filled = rules.filled(text, values)
    assert isinstance(filled, str)


def test_a_known_placeholder_without_a_value_is_left_out_and_other_brackets_stay_as_written():
    assert rules.filled("Hello {name}, {link}bring {socks}.", {"name": "Ada"}) == "Hello Ada, bring {socks}."


def test_a_value_cannot_reach_into_python():
    assert rules.filled("{name.__class__} {name}", {"name": "Ada"}) == "{name.__class__} Ada"


def test_a_subject_is_one_line_whatever_a_value_holds():
    words = rules.Words("x", "For {name}", "")
    assert rules.letter(words, {"name": "Ada\r\nBcc: all@mail.example"}).subject == "For Ada Bcc: all@mail.example"


@pytest.mark.parametrize("kind", sorted(DEFAULT_WORDS))
def test_the_usual_words_of_every_kind_may_be_kept_and_use_only_what_they_get(kind):
    assert rules.words_reasons(DEFAULT_WORDS[kind]) == []
    assert rules.strangers(DEFAULT_WORDS[kind]) == []
    assert "{" not in rules.example(DEFAULT_WORDS[kind], house="Slow Carriage House").body


def test_a_refused_notice_waits_longer_each_time_and_fails_after_five():
    waits = [rules.next_try(attempts, now=NOW) for attempts in range(1, 6)]
    assert waits[-1] is None
    assert waits[:4] == sorted(set(waits[:4]))


# --- putting and taking back ----------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_the_same_intent_is_laid_in_the_outbox_once():
    assert put() is not None
    assert put() is None
    assert models.Notice.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_processes_that_put_the_same_notice_make_one():
    contact = make.contact()

    def one(_: int) -> bool:
        try:
            return put(contact=contact) is not None
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        made = list(pool.map(one, range(4)))
    assert sum(made) == 1


@pytest.mark.django_db(transaction=True)
def test_a_notice_of_a_transaction_that_failed_never_existed(post_office):
    class SecondThoughts(Exception):
        pass

    with pytest.raises(SecondThoughts), transaction.atomic():
        put()
        raise SecondThoughts
    assert notices.send_due(now=NOW).seen == 0
    assert post_office.letters == []


@pytest.mark.django_db
def test_a_withdrawn_notice_does_not_leave_and_its_link_is_forgotten(post_office):
    put()
    assert notices.withdraw(about="client:1", now=NOW) == 1
    assert notices.send_due(now=NOW).seen == 0
    kept = models.Notice.objects.get()
    assert (kept.state, kept.values, post_office.letters) == (State.WITHDRAWN, {"name": "Ada"}, [])


@pytest.mark.django_db
def test_withdrawing_takes_only_what_is_about_the_same_thing():
    put()
    put(about="client:12", once="form_link:12")
    assert notices.withdraw(about="client:1", now=NOW) == 1


@pytest.mark.django_db
def test_a_notice_withdrawn_between_claim_and_sending_stays_here(post_office):
    put()
    [claimed] = notices._claim(50, notices.Counts(), NOW)
    notices.withdraw(about="client:1", now=NOW)
    counts = notices.Counts()
    notices._send(claimed, counts, lambda: NOW)
    assert (counts.taken, post_office.letters) == (1, [])


# --- sending --------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_due_notice_leaves_by_smtp_with_its_own_id_and_forgets_its_link(post_office):
    make.business()
    notice = put()
    counts = notices.send_due(now=NOW)
    [letter] = post_office.letters
    assert counts.sent == 1
    assert letter["Message-ID"] == f"<{notice.pk}@localhost>"
    assert letter["Subject"] == "Your health form for Slow Carriage House"
    assert "http://house.example/form/secret/" in letter.get_content()
    notice.refresh_from_db()
    assert (notice.state, notice.values, notice.lease_until) == (State.SENT, {"name": "Ada"}, None)


@pytest.mark.django_db
def test_a_notice_leaves_once_however_often_the_sender_runs(post_office):
    put()
    for minutes in range(0, 30, 3):
        notices.send_due(now=NOW + timedelta(minutes=minutes))
    assert len(post_office.letters) == 1


@pytest.mark.django_db
def test_a_notice_waits_until_it_is_due(post_office):
    put(due_at=NOW + SOON)
    assert notices.send_due(now=NOW).sent == 0
    assert notices.send_due(now=NOW + SOON).sent == 1


@pytest.mark.django_db
def test_the_owners_words_replace_the_houses(post_office):
    models.NoticeText.objects.create(kind="form_link", subject="Dear {name} ✨", body="{link} {nonsense} נועה")
    put()
    notices.send_due(now=NOW)
    [letter] = post_office.letters
    assert letter["Subject"] == "Dear Ada ✨"
    assert letter.get_content().strip() == "http://house.example/form/secret/ {nonsense} נועה"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"not_after": NOW - timedelta(seconds=1)}, rules.Drop.TOO_LATE),
        ({"unsubscribed_at": NOW}, rules.Drop.UNSUBSCRIBED),
        ({"bounced_at": NOW}, rules.Drop.BOUNCED),
    ],
)
def test_a_notice_that_should_not_leave_says_why(post_office, changed, why):
    not_after = changed.pop("not_after", None)
    notice = put(contact=make.contact(**changed), not_after=not_after)
    counts = notices.send_due(now=NOW)
    notice.refresh_from_db()
    assert (counts.dropped, notice.state, notice.trouble) == (1, State.WITHDRAWN, why.value)
    assert "link" not in notice.values and post_office.letters == []


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("address", "answer"),
    [("gone@refused.example", "550 No such mailbox"), ("ada@full.example", "452 The mailbox is full")],
)
def test_a_refusal_the_server_spoke_is_tried_five_times_and_then_shown(post_office, address, answer):
    notice = put(contact=make.contact(address=address))
    now, tries = NOW, 0
    while notice.state != State.FAILED:
        tries += notices.send_due(now=now).refused
        notice.refresh_from_db()
        now = notice.due_at
    assert (tries, notice.attempts) == (5, 5)
    assert answer in notice.trouble
    assert post_office.letters == []


@pytest.mark.django_db
def test_a_connection_cut_before_the_answer_leaves_it_unsure_and_never_sends_again(post_office):
    notice = put(contact=make.contact(address="ada@cut.example"))
    for minutes in range(0, 30, 3):
        notices.send_due(now=NOW + timedelta(minutes=minutes))
    notice.refresh_from_db()
    assert notice.state == State.UNSURE
    assert len(post_office.letters) == 1


@pytest.mark.django_db
def test_a_mail_server_that_is_away_costs_no_attempt(post_office):
    notice = put()
    post_office.close()
    counts = notices.send_due(now=NOW)
    notice.refresh_from_db()
    assert (counts.away, notice.state, notice.attempts) == (True, State.WAITING, 0)
    post_office.open()
    assert notices.send_due(now=NOW).sent == 1


@pytest.mark.django_db
def test_an_address_that_cannot_be_written_fails_alone(post_office):
    bad = put(contact=make.contact(address="no\nbody@mail.example"), once="a")
    put(once="b")
    counts = notices.send_due(now=NOW)
    bad.refresh_from_db()
    assert (counts.sent, bad.state) == (1, State.FAILED)


@pytest.mark.django_db
def test_a_dead_workers_claim_is_taken_over_and_a_half_sent_one_is_not(post_office):
    lapsed = NOW - timedelta(seconds=1)
    claimed = make.notice(state=State.CLAIMED, lease_until=lapsed)
    sending = make.notice(state=State.SENDING, lease_until=lapsed)
    running = make.notice(state=State.CLAIMED, lease_until=NOW + timedelta(seconds=1))
    notices.send_due(now=NOW)
    states = {row.pk: row.state for row in models.Notice.objects.all()}
    assert states == {claimed.pk: State.SENT, sending.pk: State.UNSURE, running.pk: State.CLAIMED}


@pytest.mark.django_db(transaction=True)
def test_four_senders_at_once_send_each_notice_once(post_office):
    for _ in range(40):
        make.notice()

    def send(_: int) -> int:
        try:
            return sum(notices.send_due(now=NOW, limit=5).sent for _ in range(20))
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        sent = sum(pool.map(send, range(4)))
    assert sent == 40
    assert len({letter["Message-ID"] for letter in post_office.letters}) == len(post_office.letters) == 40


# --- what a person settles ------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_an_unsure_notice_is_sent_again_by_a_person_and_the_deed_is_kept(post_office, desk):
    notice = make.notice(state=State.UNSURE)
    notices.send_again(notice.pk, by=desk, now=NOW)
    assert notices.send_due(now=NOW).sent == 1
    assert models.AuditEntry.objects.filter(verb="send again", person=desk, key=str(notice.pk)).exists()


@pytest.mark.django_db
@pytest.mark.parametrize("state", [State.WAITING, State.SENT, State.WITHDRAWN])
def test_only_a_failed_or_unsure_notice_is_sent_again(desk, state):
    notice = make.notice(state=state, sent_at=NOW if state == State.SENT else None)
    with pytest.raises(Refused) as refused:
        notices.send_again(notice.pk, by=desk, now=NOW)
    assert refused.value.reasons[0].code == "settled"


@pytest.mark.django_db
def test_a_notice_whose_time_has_passed_is_not_sent_again(desk):
    notice = make.notice(state=State.FAILED, not_after=NOW - timedelta(hours=1))
    with pytest.raises(Refused) as refused:
        notices.send_again(notice.pk, by=desk, now=NOW)
    assert refused.value.reasons[0].code == "too_late"


@pytest.mark.django_db
def test_a_notice_that_is_let_be_leaves_the_list_of_troubles(desk):
    notice = make.notice(state=State.FAILED)
    notices.let_be(notice.pk, by=desk, now=NOW)
    assert queries.outbox(now=NOW).troubles == []


@pytest.mark.django_db
def test_the_outbox_needs_the_same_queries_for_one_and_for_fifty(django_assert_num_queries):
    make.notice()
    with django_assert_num_queries(3):
        queries.outbox(now=NOW)
    for _ in range(50):
        make.notice(state=State.UNSURE)
    with django_assert_num_queries(3):
        assert len(queries.outbox(now=NOW).troubles) == 50


def test_the_post_office_of_these_tests_is_a_server_of_its_own():
    office = PostOffice()
    office.open()
    office.close()
    assert office.letters == []
