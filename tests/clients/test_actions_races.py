"""Two tabs, two desks, and the letter that really leaves: what happens at once or outside."""

import re
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from clients import actions, models
from studio import models as studio_models
from studio.actions import notices
from tests import make_clients as make

pytestmark = pytest.mark.django_db(transaction=True)
TABS = 4


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


def at_once(deed):
    """What `deed(number)` gave in each of several threads, or the code it was refused with."""

    def one(number):
        try:
            return deed(number)
        except actions.LinkGone as gone:
            return gone.code
        finally:
            connection.close()

    with ThreadPoolExecutor(TABS) as tabs:
        return list(tabs.map(one, range(TABS)))


def test_of_several_tabs_that_sign_at_once_one_signs():
    token = make.link()
    make.answer(token)

    def sign(number):
        return actions.sign_form(token, name=f"Tab {number}", signed_as="client", now=make.NOW).outcome

    assert sorted(at_once(sign)) == ["clear"] + ["signed_link"] * (TABS - 1)
    assert models.Screening.objects.count() == models.HealthForm.objects.count() == 1


def test_several_tabs_that_save_different_screens_at_once_lose_nothing():
    token = make.link()
    screens = ["H02", "H03", "H09", "H14"]

    def save(number):
        screen = screens[number]
        return actions.save_screen(token, screen_id=screen, posted={screen: ["no"]}, now=make.NOW).kept

    assert at_once(save) == [{screen: "no"} for screen in screens]
    assert actions.open_form(token, now=make.NOW).answers == dict.fromkeys(screens, "no")
    assert models.HealthForm.objects.get().saves == TABS


def test_links_made_at_once_leave_one_open():
    client = make.client()
    at_once(lambda _: actions.make_form_link(client.pk, by=None, now=make.NOW).token)
    assert models.FormLink.objects.filter(ended_at=None).count() == 1


def test_the_link_in_the_letter_opens_the_form_and_is_forgotten_once_sent(post_office):
    ruvena = make.client(email="ruvena@mail.example")
    sent = actions.send_form_link(ruvena.pk, by=None, now=make.NOW)
    assert notices.send_due(now=make.NOW).sent == 1
    (letter,) = post_office.letters
    body = letter.get_content()
    assert letter["To"] == "ruvena@mail.example" and sent.address in body
    token = re.search(r"/form/([\w-]+)/", body)[1]
    assert actions.open_form(token, now=make.NOW).client_id == ruvena.pk
    assert "link" not in studio_models.Notice.objects.get().values
