"""Every red flag by itself: where it leads, what it needs besides, and what its source says.

Sources: Finucane LM et al., International framework for red flags, JOSPT 50:350, 2020 (finucane2020; abstract read):
flags decide who must be seen, and name nothing. Downie A et al., BMJ 2013 (downie2013, second hand) and Henschke N et
al., Cochrane 2013 (henschke2013, read): past cancer is the one well supported single flag. BMJ Best Practice and the
GIRFT pathway (bestpractice_ces, girft_ces, read); NICE CKS (nice_cks_back, read); framework for the neck
(ifompt_cervical2020, from memory); open teaching tables (redflag_tables, second hand); eye pages (eye_pages, second
hand); usual medical advice without one source (general_medical, from memory); riebe2015, second hand.
"""

import pytest

from clients.rules import Outcome, ReasonKind, form
from clients.rules.facts import ToldFlag
from clients.rules.form import follow_ups, questions
from tests.published.someone import BOOK, ON, ago, found, outcome

# Flag, what its question must speak of, what it needs besides, on the day, on the next day, sources.
EMERGENCY, POSTPONE, REFER = Outcome.EMERGENCY, Outcome.POSTPONE, Outcome.REFER
CES = "back or leg pain; new within 14 days or getting worse"
CES_SOURCES = {"bestpractice_ces", "girft_ces"}
FLAGS = [
    ("F01", "urine", CES, EMERGENCY, EMERGENCY, CES_SOURCES | {"nice_cks_back"}),
    ("F02", "saddle", CES, EMERGENCY, EMERGENCY, CES_SOURCES | {"nice_cks_back"}),
    ("F03", "both legs", CES, EMERGENCY, EMERGENCY, CES_SOURCES | {"nice_cks_back"}),
    ("F04", "sexual", CES, EMERGENCY, EMERGENCY, CES_SOURCES),
    ("F05", "clumsy", "", POSTPONE, REFER, {"ifompt_cervical2020"}),
    ("F06", "seeing double", "neck pain", POSTPONE, REFER, {"ifompt_cervical2020"}),
    ("F07", "fall", "", REFER, REFER, {"downie2013"}),
    ("F08", "steroid", "new spine pain", REFER, REFER, {"downie2013"}),
    ("F09", "thin bones", "known osteoporosis", REFER, REFER, {"downie2013"}),
    ("F10", "over 75", "new spine pain; much stronger with another fracture item", REFER, REFER, {"downie2013"}),
    ("F11", "cancer", "new pain", REFER, REFER, {"henschke2013", "downie2013"}),
    ("F12", "lost weight", "", REFER, REFER, {"downie2013", "general_medical"}),
    ("F13", "at night", "", REFER, REFER, {"henschke2013"}),
    ("F14", "after a month", "", REFER, REFER, {"henschke2013"}),
    ("F15", "Fever", "spine pain", POSTPONE, REFER, {"redflag_tables", "ifompt_cervical2020"}),
    ("F16", "weakened defences", "spine pain", POSTPONE, REFER, {"redflag_tables", "ifompt_cervical2020"}),
    ("F17", "newly weak", "", POSTPONE, REFER, {"nice_cks_back"}),
    ("F18", "calf", "", EMERGENCY, EMERGENCY, {"general_medical"}),
    ("F19", "breathlessness", "", EMERGENCY, EMERGENCY, {"general_medical"}),
    ("F20", "Chest pain", "", EMERGENCY, EMERGENCY, {"riebe2015", "general_medical"}),
    ("F21", "speech", "", EMERGENCY, EMERGENCY, {"general_medical"}),
    ("F22", "flashes", "", EMERGENCY, EMERGENCY, {"eye_pages"}),
    ("F23", "beating lump", "", POSTPONE, REFER, {"redflag_tables"}),
    ("F24", "shoulder blades", "", POSTPONE, REFER, {"redflag_tables"}),
]
WITH_NEEDS = [flag_id for flag_id, _, needs, *_ in FLAGS if needs]


def test_the_table_holds_these_flags_and_no_other():
    assert [row[0] for row in FLAGS] == list(BOOK.red_flags)


@pytest.mark.parametrize(("flag_id", "word", "needs", "today", "later", "sources"), FLAGS)
def test_the_flag_leads_where_its_source_sends(flag_id, word, needs, today, later, sources):
    flag = BOOK.red_flags[flag_id]
    assert (flag.needs_also, set(flag.source_ids)) == (needs, sources)
    assert word in flag.question
    assert outcome(flags=(ToldFlag(flag_id),)) is today
    assert outcome(flags=(ToldFlag(flag_id),), written_on=ago(1)) is later


@pytest.mark.parametrize("flag_id", WITH_NEEDS)
def test_without_what_it_needs_besides_a_flag_does_not_count_but_for_the_four_of_the_saddle(flag_id):
    # bestpractice_ces, read, for what goes with the four; that the four then still ask for a doctor is the house's own
    expected = REFER if flag_id in questions.BACK_FLAGS else Outcome.CLEAR
    assert outcome(flags=(ToldFlag(flag_id, False),)) is expected


@pytest.mark.parametrize("flag_id", WITH_NEEDS)
def test_what_a_flag_needs_besides_counts_as_there_while_it_is_not_known(flag_id):
    # A default of the house: what is not known is never a no
    assert outcome(flags=(ToldFlag(flag_id, None),)) is outcome(flags=(ToldFlag(flag_id, True),))


@pytest.mark.parametrize(
    ("flag_id", "where"),
    [
        ("F06", ["neck"]),  # ifompt_cervical2020, from memory: with neck pain
        ("F08", ["upper_back"]),  # downie2013, second hand: with new pain of the spine
        ("F09", ["lower_back"]),
        ("F10", ["neck"]),
        ("F15", ["lower_back"]),  # redflag_tables, second hand: with pain of the spine
        ("F16", ["upper_back"]),
    ],
)
def test_the_form_asks_a_flag_where_what_it_needs_is_told(flag_id, where):
    assert flag_id in follow_ups.back_flag_ids({"H07": "yes", "H07.where": where}, on=ON, born_on=None)
    assert flag_id not in follow_ups.back_flag_ids({"H07": "yes", "H07.where": ["arm"]}, on=ON, born_on=None)


def test_cancer_in_the_past_counts_by_itself_once_there_is_pain():
    # henschke2013, read: the one well supported single flag
    told = form.facts(BOOK, {"H07": "no", "H08": "yes", "F11": "yes"}, on=ON)
    assert [flag.flag_id for flag in told.flags] == ["F11"]
    assert outcome(flags=told.flags) is REFER


def test_a_flag_names_no_illness_and_comes_before_everything_else():
    # finucane2020, abstract read: a flag decides who is seen, it names nothing
    told = found(flags=tuple(ToldFlag(flag_id) for flag_id in BOOK.red_flags), symptoms=frozenset({"S5"}))
    kinds = [reason.kind for reason in told.reasons]
    assert kinds[: len(FLAGS)] == [ReasonKind.RED_FLAG] * len(FLAGS)
    named = ("cauda", "cancer", "fracture", "infection", "clot", "stroke", "aneurysm", "tumour", "detachment")
    for reason in told.reasons[: len(FLAGS)]:
        assert not any(word in reason.says.lower() for word in named)


def test_one_flag_is_enough_and_more_never_make_it_milder():
    # finucane2020, abstract read
    order = list(Outcome)
    for flag_id in BOOK.red_flags:
        both = outcome(flags=(ToldFlag(flag_id), ToldFlag("F12")))
        assert order.index(both) <= order.index(outcome(flags=(ToldFlag(flag_id),)))
