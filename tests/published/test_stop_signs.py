"""Signs that end or change a lesson.

Sources: code of ethics and scope of practice of a national certification programme, seen in a reproduction
(npcp_scope, second hand) for X01 to X09; common practice without a source for X10 to X12; usual medical advice
(general_medical, from memory) for X13; older US lists (acog_older, second hand) and public guides to the Canadian
guideline (csep_pregnancy_guide, second hand) for pregnancy.
"""

import pytest

from clients.rules import Outcome, Pregnancy
from tests.published.someone import BOOK, ON, ago, outcome

# Sign, a word of it, what its action must hold, source.
SIGNS = [
    ("X01", "Chest pain", "emergency", "npcp_scope"),
    ("X02", "Dizziness", "sit or lie", "npcp_scope"),
    ("X03", "races or stumbles", "doctor", "npcp_scope"),
    ("X04", "out of breath", "emergency if it does not settle", "npcp_scope"),
    ("X05", "no longer obey", "emergency if one side is weak", "npcp_scope"),
    ("X06", "Fainting", "doctor before return", "npcp_scope"),
    ("X07", "Feeling sick", "rest", "npcp_scope"),
    ("X08", "Sight that blurs", "doctor", "npcp_scope"),
    ("X09", "sharp or spreading", "row, springs and repetitions", "npcp_scope"),
    ("X10", "travelling further down", "doctor before return", "studio_practice"),
    ("X11", "Headache", "doctor", "studio_practice"),
    ("X12", "carriage is out of control", "springs and set-up", "studio_practice"),
    ("X13", "Calf pain", "emergency", "general_medical"),
    ("X14", "pregnancy", "maternity provider", "acog_older"),
]
# acog_older and csep_pregnancy_guide, second hand
IN_PREGNANCY = {
    "P36": "Bleeding",
    "P37": "belly",
    "P38": "tightenings",
    "P39": "Fluid",
    "P40": "before effort",
    "P41": "faintness",
    "P42": "Headache",
    "P43": "Chest pain",
    "P44": "weakness",
    "P45": "Calf",
    "P46": "moves less",
}


def test_the_table_holds_these_signs_and_no_other():
    assert [sign_id for sign_id, *_ in SIGNS] == list(BOOK.stop_signs)


@pytest.mark.parametrize(("sign_id", "word", "action", "source"), SIGNS)
def test_each_sign_stops_the_work_and_says_what_next(sign_id, word, action, source):
    sign = BOOK.stop_signs[sign_id]
    assert word in sign.statement
    assert sign.action.startswith("stop; ")
    assert action in sign.action
    assert source in sign.source_ids


def test_the_pregnancy_signs_are_the_eleven_of_the_lists():
    assert {gate.id for gate in BOOK.pregnancy_gates.values() if gate.level == "stop_sign"} == set(IN_PREGNANCY)


@pytest.mark.parametrize(("gate_id", "word"), IN_PREGNANCY.items())
def test_each_pregnancy_sign_stops_at_once_and_then_waits_for_the_provider(gate_id, word):
    gate = BOOK.pregnancy_gates[gate_id]
    assert word in gate.statement
    assert gate.action.startswith("stop now")
    expecting = Pregnancy(ago(-100), frozenset({gate_id}))
    assert outcome(pregnancy=expecting) is Outcome.POSTPONE
    assert outcome(pregnancy=expecting, written_on=ON.replace(day=1)) is Outcome.REFER
