"""Two tablets on one form at the same moment."""

import pytest

from clients import actions
from tests import make_clients as make
from tests.clients.test_actions_races import TABS, at_once

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def rules(db):
    make.load_reference()


def test_of_several_tablets_that_answer_one_screen_differently_one_is_kept_and_the_others_are_shown_it():
    token = make.link()

    def save(number):
        posted = {"H18": [f"wish {number}"], "H18.intensity": ["light_moderate"]}
        return actions.save_screen(token, screen_id="H18", posted=posted, now=make.NOW, saves=0)

    found = at_once(save)
    kept = actions.open_form(token, now=make.NOW).answers["H18"]
    assert [one.meanwhile.get("H18", kept) for one in found] == [kept] * TABS
    assert sum(bool(one.kept) for one in found) == 1
