"""Templates as teachers and the owner see them: the list, the builder with and without a script, approval, versions."""

import re

import pytest
import time_machine
from django.urls import reverse

from programming import models
from programming.actions import approvals, drafts
from programming.rules.building import Deed, PutRow, PutSeries, Touch
from studio.rules import ApparatusKind, Role
from tests import make
from tests.conftest import logged_in
from tests.make_programming import LESSON, NOW, template

pytestmark = pytest.mark.django_db
REFORMER = ApparatusKind.REFORMER


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(LESSON, tick=False):
        yield


@pytest.fixture
def owner(lesson):
    return make.person(Role.OWNER, name="Sefarina Mault")


@pytest.fixture
def teacher(lesson):
    return logged_in(lesson.teacher)


@pytest.fixture
def draft(lesson):
    made = drafts.new_template(
        name="Evening order", aim="long and quiet", kind=REFORMER, level=2, minutes=55, by=lesson.teacher, now=NOW
    )
    drafts.edit_draft(
        made.pk, edit=PutSeries(REFORMER, "Stomach massage", up_to=2), revision=0, by=lesson.teacher, now=NOW
    )
    return models.Template.objects.get(pk=made.pk)


def page(client, name, *args, **query):
    answer = client.get(reverse(f"programming:{name}", args=args), query)
    assert answer.status_code == 200, answer.status_code
    return answer.content.decode()


def post(client, route, /, *args, query="", htmx=False, **data):
    headers = {"HX-Request": "true"} if htmx else {}
    return client.post(reverse(f"programming:{route}", args=args) + query, data, headers=headers)


def tap(client, draft, deed, *, htmx=True, revision=None, **data):
    at = models.Template.objects.get(pk=draft.pk).revision if revision is None else revision
    return post(client, "template-edit", draft.pk, htmx=htmx, deed=deed, revision=at, **data)


def ids(draft):
    return list(draft.lines.order_by("position").values_list("exercise_id", flat=True))


def key(draft, exercise_id):
    return draft.lines.get(exercise_id=exercise_id).pk


def text(html):
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


# --- the list and a new one -------------------------------------------------------------------------------------------
def test_the_list_puts_what_waits_for_the_owner_first(lesson, teacher, draft):
    models.Template.objects.filter(pk=draft.pk).update(state="proposed")
    html = page(teacher, "template-list")
    first = html[html.index("<tbody>") :]
    assert first.index("Evening order") < first.index("Foundation order")
    assert "with the owner" in first and "in use" in first


def test_the_list_is_found_by_word_and_by_state(teacher, draft):
    assert "Foundation order" not in page(teacher, "template-list", q="evening")
    assert "Evening order" not in page(teacher, "template-list", state="active")
    assert "No template like that" in page(teacher, "template-list", q="nothing of the kind")


def test_a_new_template_begins_as_an_empty_draft(teacher):
    answer = post(teacher, "template-new", name="Late hour", aim="", kind="reformer", level=2, minutes=45)
    made = models.Template.objects.get(name="Late hour")
    assert answer.url == reverse("programming:template", args=[made.pk])
    assert made.state == "draft"
    assert "An empty rail" in page(teacher, "template", made.pk)


def test_a_taken_name_is_said_beside_the_name(teacher):
    answer = post(teacher, "template-new", name="Foundation order", kind="reformer", level=2, minutes=45)
    assert answer.status_code == 409
    assert 'id="id_name_error"' in answer.content.decode()


# --- the builder ------------------------------------------------------------------------------------------------------
def test_the_builder_shows_the_rail_the_sums_and_every_line(teacher, draft):
    html = page(teacher, "template", draft.pk)
    assert html.count('class="hit"') == 2 and html.count("data-key=") == 2
    assert "8:00 of 55:00" not in text(html) and "in hand" in text(html)
    assert "Rounding : opening" in text(html)


def test_a_tap_is_answered_with_the_pages_piece_and_what_was_done(teacher, draft):
    answer = tap(teacher, draft, f"more_reps.{key(draft, 'R-SM1')}")
    html = answer.content.decode()
    assert "<html" not in html and "Stomach massage, round: 10 repetitions." in html
    assert draft.lines.get(exercise_id="R-SM1").reps == 10


def test_without_a_script_the_same_tap_leads_back_to_its_line(teacher, draft):
    line = key(draft, "R-SM1")
    answer = post(
        teacher, "template-edit", draft.pk, query=f"?machine=&open={line}&side=rules", deed=f"more_reps.{line}",
        revision=1,
    )  # fmt: skip
    assert answer.status_code == 302
    assert answer.url == f"{reverse('programming:template', args=[draft.pk])}?open={line}&side=rules#line-{line}"
    assert "10 repetitions" in text(teacher.get(answer.url).content.decode())


@pytest.mark.parametrize(
    ("deed", "data", "after"),
    [
        ("series.2.reformer.Footwork", {}, ["R-SM1", "R-SM2", "R-FW1", "R-FW2", "R-FW3", "R-FW4", "R-FW5"]),
        ("series.1.reformer.Footwork", {"before": "first"}, ["R-FW1", "R-FW2", "R-FW3", "R-FW4", "R-SM1", "R-SM2"]),
        ("row.R-HUN", {"before": "0"}, ["R-SM1", "R-SM2", "R-HUN"]),
        ("row.R-SM3", {}, ["R-SM1", "R-SM2", "R-SM3"]),
        ("up.second", {}, ["R-SM2", "R-SM1"]),
        ("move.second", {"to": "first"}, ["R-SM2", "R-SM1"]),
        ("block.first", {"to": "0"}, ["R-SM1", "R-SM2"]),
        ("out.first", {}, ["R-SM2"]),
        ("block_out.first", {}, []),
    ],
)
def test_every_button_is_one_deed(teacher, draft, deed, data, after):
    keys = {"first": key(draft, "R-SM1"), "second": key(draft, "R-SM2")}
    verb, _, rest = deed.partition(".")
    data = {name: keys.get(value, value) for name, value in data.items()}
    answer = tap(teacher, draft, f"{verb}.{keys.get(rest, rest)}", **data)
    assert answer.status_code == 200, text(answer.content.decode())
    assert ids(draft) == after


def test_an_open_line_takes_set_up_a_note_and_counts(teacher, draft):
    line = key(draft, "R-SM1")
    html = page(teacher, "template", draft.pk, open=line)
    assert f'id="edit-{line}"' in html and 'name="setup_headrest"' in html
    tap(teacher, draft, f"words.{line}", setup_headrest="up", note="sit tall first")
    row = draft.lines.get(pk=line)
    assert (row.setup, row.note) == ({"headrest": "up"}, "sit tall first")
    tap(teacher, draft, f"counts.{line}", springs=3, reps=8)
    row.refresh_from_db()
    assert (row.springs, row.reps) == (3, 8)


def test_a_machine_turns_counts_into_its_own_springs_and_is_judged(lesson, teacher, draft):
    html = page(teacher, "template", draft.pk, machine=lesson.place.apparatus_id)
    assert 'class="spring ' in html and 'class="alike"' not in html


def test_a_machine_without_springs_blocks_every_line_in_words(lesson, teacher, draft):
    lesson.place.apparatus.springs.update(removed_on=NOW.date())
    html = page(teacher, "template", draft.pk, machine=lesson.place.apparatus_id, side="rules")
    assert html.count("This machine has no springs") == 4


def test_undo_stands_beside_what_was_done(teacher, draft):
    tap(teacher, draft, "row.R-HUN")
    html = tap(teacher, draft, "undo").content.decode()
    assert "Taken back: Hundred is line 3." in html and 'value="redo"' in html
    assert ids(draft) == ["R-SM1", "R-SM2"]
    tap(teacher, draft, "redo")
    assert ids(draft) == ["R-SM1", "R-SM2", "R-HUN"]


def test_what_the_rules_of_building_refuse_is_said_on_the_page_with_what_would_be_allowed(teacher, draft):
    answer = tap(teacher, draft, f"counts.{key(draft, 'R-SM2')}", springs=4)
    assert answer.status_code == 409
    assert "is done on 2 to 3 springs. 2 to 3." in text(answer.content.decode())


@pytest.mark.parametrize(
    "deed", ["", "fly.1", "up.x", "move.1", "series.9.reformer.Footwork", "row.", "series.2.boat.X"]
)
def test_a_button_that_is_none_is_refused_with_a_word(teacher, draft, deed):
    answer = tap(teacher, draft, deed)
    assert answer.status_code == 422
    assert "Not done: nothing has been changed" in answer.content.decode()


# --- two teachers -----------------------------------------------------------------------------------------------------
def test_a_late_change_is_shown_with_what_the_other_did_and_can_be_made_now(lesson, owner, teacher, draft):
    other = logged_in(owner)
    tap(other, draft, "row.R-HUN")
    answer = tap(teacher, draft, "row.R-FRO", revision=1)
    html = answer.content.decode()
    assert answer.status_code == 409
    assert "Sefarina Mault: Hundred is line 3." in text(html)
    again = html[html.index("data-again") :]
    assert 'name="deed" value="row.R-FRO"' in again and 'name="revision" value="2"' in again
    assert tap(teacher, draft, "row.R-FRO", revision=2).status_code == 200
    assert ids(draft) == ["R-SM1", "R-SM2", "R-HUN", "R-FRO"]


# --- rules and reasons ------------------------------------------------------------------------------------------------
def test_a_warning_is_let_stand_with_a_reason_and_stands_no_longer_without(teacher, draft):
    tap(teacher, draft, "row.R-HUN")
    html = page(teacher, "template", draft.pk, side="rules")
    assert "to look at" in html
    given = {"rule": "V9", "key": 0, "revision": 2}
    html = post(
        teacher, "template-stand", draft.pk, htmx=True, reason="the tower opens later", **given
    ).content.decode()
    assert draft.overrides.get().reason == "the tower opens later"
    post(teacher, "template-stand", draft.pk, htmx=True, reason="", **(given | {"revision": 3}))
    assert not draft.overrides.exists()


def test_what_is_refused_elsewhere_still_links_to_the_page_itself(teacher, draft):
    tap(teacher, draft, "row.R-HUN")
    html = post(teacher, "template-decide", draft.pk, deed="propose", revision=2).content.decode()
    links = re.findall(r'(?:href|hx-get|action)="([^"]*)"', html)
    assert not [link for link in links if link.startswith("?")]


def test_handing_on_what_still_warns_says_what_is_missing(teacher, draft):
    tap(teacher, draft, "row.R-HUN")
    answer = post(teacher, "template-decide", draft.pk, deed="propose", revision=2)
    assert answer.status_code == 409
    assert "It may stand with a reason." in text(answer.content.decode())


# --- approval ---------------------------------------------------------------------------------------------------------
@pytest.fixture
def proposed(lesson):
    made = drafts.new_template(
        name="Quiet order", aim="", kind=REFORMER, level=2, minutes=55, by=lesson.teacher, now=NOW
    )
    for revision, row in enumerate(("R-FW1", "R-FRO")):
        drafts.edit_draft(made.pk, edit=PutRow(row), revision=revision, by=lesson.teacher, now=NOW)
    return approvals.propose_template(made.pk, revision=2, by=lesson.teacher, now=NOW)


def test_only_the_owner_approves(teacher, proposed):
    assert post(teacher, "template-answer", proposed.pk, deed="approve").status_code == 403
    assert "Approve" not in page(teacher, "template", proposed.pk)


def test_the_owner_approves_and_it_is_in_use(owner, proposed):
    boss = logged_in(owner)
    assert "Approve: put in use" in page(boss, "template", proposed.pk)
    post(boss, "template-answer", proposed.pk, deed="approve")
    assert models.Template.objects.get(pk=proposed.pk).state == "active"


def test_the_owners_words_stand_over_the_draft_she_sent_back(owner, teacher, proposed):
    post(logged_in(owner), "template-answer", proposed.pk, deed="send_back", words="Add the long box.")
    assert "Add the long box." in page(teacher, "template", proposed.pk)


def test_a_proposed_template_has_no_button_that_changes_it(teacher, proposed):
    html = page(teacher, "template", proposed.pk)
    assert 'form="deed"' not in html and "Take it back" in html


def test_a_template_in_use_leads_to_its_next_version_and_to_a_copy(teacher):
    used = template()
    answer = post(teacher, "template-decide", used.pk, deed="next")
    after = models.Template.objects.get(name=used.name, version=2)
    assert answer.url == reverse("programming:template", args=[after.pk])
    again = post(teacher, "template-decide", used.pk, deed="next")
    assert again.status_code == 409 and "is a draft already" in text(again.content.decode())
    post(teacher, "template-decide", used.pk, deed="copy")
    assert models.Template.objects.filter(name=f"{used.name}, copy").exists()


# --- versions ---------------------------------------------------------------------------------------------------------
def test_two_versions_are_compared_line_by_line(lesson, teacher):
    used = template("Short visit")
    after = approvals.next_version(used.pk, by=lesson.teacher, now=NOW)
    changes = [
        Touch(Deed.FEWER_SPRINGS, key(after, "R-HUN")), Touch(Deed.OUT, key(after, "R-LB2")), PutRow("R-ROW6"),
    ]  # fmt: skip
    for revision, change in enumerate(changes):
        drafts.edit_draft(after.pk, edit=change, revision=revision, by=lesson.teacher, now=NOW)
    told = text(page(teacher, "template-compare", after.pk))
    assert "springs 4 → 3" in told and "taken out" in told and "put in" in told
    assert "3 of the lines differ" in told
    assert "the same" not in text(page(teacher, "template-compare", after.pk, **{"with": used.pk, "only": "changed"}))


def test_a_first_version_has_nothing_to_compare_with(teacher, draft):
    assert "Nothing to compare with" in page(teacher, "template-compare", draft.pk)


# --- the shelf --------------------------------------------------------------------------------------------------------
def test_the_shelf_counts_what_a_level_lets_in_and_opens_one_series(teacher, draft):
    html = page(teacher, "template", draft.pk, series="reformer.Rowing")
    assert 'aria-label="Put in 2 of Rowing"' in html
    assert html.count('class="b-part') == 6 + 1  # the six parts, and the list they stand in


def test_a_word_finds_exercises_by_name_aim_and_position(teacher, draft):
    assert "Hundred" in page(teacher, "template", draft.pk, q="hundred")
    assert "Pulling straps" in page(teacher, "template", draft.pk, q="back strength prone")
    assert "Nothing like that" in page(teacher, "template", draft.pk, q="xylophone")


@pytest.mark.parametrize("lines", [2, 40])
def test_the_page_asks_as_often_for_many_lines_as_for_few(lesson, teacher, django_assert_max_num_queries, lines):
    made = drafts.new_template(name="Long one", aim="", kind=REFORMER, level=5, minutes=180, by=lesson.teacher, now=NOW)
    rows = list(models.Exercise.objects.order_by("apparatus_kind", "order_in_apparatus"))[:lines]
    models.TemplateLine.objects.bulk_create(
        models.TemplateLine(template=made, exercise=row, position=n) for n, row in enumerate(rows, 1)
    )
    with django_assert_max_num_queries(26):
        page(teacher, "template", made.pk)
