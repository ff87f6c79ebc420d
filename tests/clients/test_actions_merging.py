"""Two cards of one person: merged with nothing lost, and parted again into the very same rows."""

import io
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import connection, transaction
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from PIL import Image

from clients import actions, models, queries
from clients.actions import merging, seals
from clients.queries import merging as looked_up
from studio import models as studio_models
from studio.rules import Refused, Role
from tests import make_clients as make
from tests import make_programming as practice
from tests import make_scheduling as at_work
from tests.clients.every_row import every_row
from tests.make_clients import NOW

pytestmark = pytest.mark.django_db
BONES = {"H09": ["yes"], "H09.conditions": ["C01"]}
WRIST = {"H08": ["yes"], "H08.conditions": ["C38"]}
LATER = NOW + timedelta(days=1)


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture
def desk(db):
    return make.person(name="Wilma Ostrander")


def two(kept_words=None, gone_words=None):
    kept = make.client("Ruvena Tarnelow", **(kept_words or {}))
    gone = make.client("Ruvena Tarnelov", different_from=(kept.pk,), **(gone_words or {}))
    return kept, gone


def merge(kept, gone, *, now=LATER, by=None, stay_open=(), **choices):
    return actions.merge_clients(kept.pk, gone.pk, choices=choices, stay_open=stay_open, by=by, now=now)


def undo(done, *, now=LATER, by=None):
    return actions.undo_merge(done.pk, by=by, now=now)


def codes(refused):
    return [one.code for one in refused.value.reasons]


def demands(client):
    return {limit.demand for limit in make.limits(models.Screening.objects.get(client=client, replaced_at=None))}


# --- the card --------------------------------------------------------------------------------------------------------


def test_the_kept_card_takes_what_it_lacks_and_what_was_chosen():
    kept, gone = two(
        {"phone": "111", "notes": "Parks behind."},
        {"phone": "222", "email": "r@mail.example", "pronoun": "she", "notes": "Rings first."},
    )
    merge(kept, gone, name="gone", phone="kept")
    kept.refresh_from_db()
    assert (kept.name, kept.name_key, kept.phone) == ("Ruvena Tarnelov", "ruvena tarnelov", "111")
    assert (kept.contact.address, kept.pronoun) == ("r@mail.example", "she")
    assert kept.notes == "Parks behind.\nRings first."


def test_the_old_card_leads_to_the_kept_one_and_is_found_no_more():
    kept, gone = two()
    merge(kept, gone)
    assert looked_up.kept_card(gone.pk) == kept.pk
    assert [row.id for row in queries.find("tarnelo")] == [kept.pk]


def test_visits_of_both_count_and_the_later_one_is_the_last():
    kept, gone = two()
    for client, day in ((kept, date(2026, 3, 2)), (gone, date(2026, 3, 4)), (gone, date(2026, 3, 3))):
        actions.count_visit(client.pk, on=day, by=None, now=NOW)
    merge(kept, gone)
    kept.refresh_from_db()
    assert (kept.visits, kept.last_visit) == (3, date(2026, 3, 4))


@pytest.mark.parametrize(
    ("choices", "code"), [({"name": "both"}, "unknown_choice"), ({"shoe": "kept"}, "unknown_choice")]
)
def test_a_choice_that_is_none_is_refused(choices, code):
    with pytest.raises(Refused) as refused:
        merge(*two(), **choices)
    assert codes(refused) == [code]


def test_two_notes_that_do_not_fit_on_a_card_are_not_cut():
    kept, gone = two({"notes": "a" * 1500}, {"notes": "b" * 1500})
    with pytest.raises(Refused) as refused:
        merge(kept, gone, notes="both")
    assert [(one.code, one.field) for one in refused.value.reasons] == [("too_long", "notes")]
    merge(kept, gone, notes="gone")
    kept.refresh_from_db()
    assert kept.notes == "b" * 1500


def test_a_card_is_not_merged_with_itself_nor_twice():
    kept, gone = two()
    with pytest.raises(Refused) as refused:
        merge(kept, kept)
    assert codes(refused) == ["same_card"]
    merge(kept, gone)
    with pytest.raises(Refused) as refused:
        merge(kept, gone)
    assert codes(refused) == ["merged_already"]


# --- health ----------------------------------------------------------------------------------------------------------


def test_the_conditions_and_limits_of_both_hold():
    kept, gone = two()
    make.signed_form(kept, BONES)
    bones = demands(kept)
    make.signed_form(gone, WRIST)
    wrist = demands(gone)
    merge(kept, gone)
    assert demands(kept) >= bones | wrist
    told = {make.condition(record).condition_id for record in kept.conditions.filter(state="active")}
    assert told == {"C01", "C38"}


def test_a_condition_told_on_both_cards_stays_twice_until_a_named_person_settles_it():
    kept, gone = two()
    for client in (kept, gone):
        make.signed_form(client, BONES)
    merge(kept, gone)
    assert [make.condition(record).condition_id for record in kept.conditions.filter(state="active")] == ["C01", "C01"]


def test_the_forms_stand_in_one_line_and_the_newest_is_in_force():
    kept, gone = two()
    make.signed_form(kept, now=NOW - timedelta(days=40))
    make.signed_form(gone, now=NOW - timedelta(days=20))
    make.signed_form(kept, WRIST, now=NOW)
    merge(kept, gone)
    forms = kept.health_forms.order_by("version").values_list("version", "state", "signed_at")
    assert [(number, state) for number, state, _ in forms] == [(1, "replaced"), (2, "replaced"), (3, "signed")]
    assert [at for _, _, at in forms] == sorted(at for _, _, at in forms)
    assert not gone.health_forms.exists()


def test_where_the_other_card_stood_stricter_the_form_is_asked_for_again():
    kept, gone = two()
    make.signed_form(gone, {"S1": ["yes"]}, now=NOW - timedelta(days=3))
    stricter = models.Screening.objects.get(client=gone).outcome
    make.signed_form(kept)
    merge(kept, gone)
    found = models.Screening.objects.get(client=kept, replaced_at=None)
    assert stricter == "refer"
    assert (found.outcome, found.asks_again) in [("clear", "full"), ("refer", "")]


def test_a_newest_form_that_a_change_made_void_leaves_no_older_one_in_force():
    kept, gone = two()
    make.signed_form(gone, now=NOW - timedelta(days=3))
    make.signed_form(kept)
    token = actions.make_form_link(kept.pk, by=None, now=NOW).token
    actions.save_screen(token, screen_id="H09", posted={"H09": ["yes"]}, now=NOW)
    merge(kept, gone)
    standing = queries.form_standings([kept.pk], on=LATER.date())[kept.pk]
    assert standing.mark == "form_not_current"


def test_two_forms_that_were_only_begun_leave_one_on_each_card():
    kept, gone = two()
    for client in (kept, gone):
        token = actions.make_form_link(client.pk, by=None, now=NOW).token
        actions.save_screen(token, screen_id="H02", posted={"H02": ["no"]}, now=NOW)
    merge(kept, gone)
    assert kept.health_forms.count() == gone.health_forms.count() == 1


def test_the_lower_level_holds():
    kept, gone = two()
    teacher = make.person(Role.INSTRUCTOR)
    for client, kind, level in ((kept, "reformer", 4), (gone, "reformer", 2), (gone, "chair", 3)):
        actions.sign_level(client.pk, kind=kind, level=level, by=teacher, now=NOW)
    merge(kept, gone)
    assert queries.ceilings([kept.pk])[kept.pk] == {"reformer": 2, "chair": 3}


@pytest.mark.parametrize(
    ("on", "stay_open", "is_open"),
    [
        (("kept", "gone"), (), True),
        (("kept",), (), False),
        (("gone",), (), False),
        (("kept",), ("touch",), True),
        (("gone",), ("touch",), True),
    ],
)
def test_a_consent_is_open_when_both_gave_it_or_it_was_asked_for(on, stay_open, is_open):
    kept, gone = two()
    for name, client in (("kept", kept), ("gone", gone)):
        if name in on:
            actions.give_consent(client.pk, kind="touch", given_by="Ruvena", by=None, now=NOW)
    merge(kept, gone, stay_open=stay_open)
    assert (queries.open_consent(kept.pk, "touch") is not None) is is_open


def test_no_word_of_the_merge_is_kept_in_the_open():
    kept, gone = two()
    make.signed_form(gone, BONES | {"H18": ["to lift my grandchild"]})
    done = merge(kept, gone)
    assert b"grandchild" not in bytes(done.sealed_before)
    form = kept.health_forms.get()
    assert seals.opened(form, "sealed_answers", client=kept)["H18"] == "to lift my grandchild"
    assert not seals.is_sealed_for(gone, form.sealed_answers)


# --- lessons and programs --------------------------------------------------------------------------------------------


def test_lessons_programs_and_notes_of_both_are_on_the_kept_card():
    practice.load()
    kept, lesson = make.client("Odalys Venn"), practice.lesson()
    program = lesson.assign()
    log = lesson.teach()
    note = seals.sealed("rolled up slowly", row=log, column="sealed_note", client=lesson.client)
    type(log).objects.filter(pk=log.pk).update(sealed_note=note)
    merge(kept, lesson.client)
    program.refresh_from_db()
    log.refresh_from_db()
    assert program.client_id == kept.pk and kept.places.count() == 1
    assert seals.opened(log, "sealed_note", client=kept) == "rolled up slowly"
    assert looked_up.moving_counts(kept.pk) == ["1 lesson", "1 program", "1 health form"]


def test_two_lessons_at_one_time_refuse_the_merge_and_both_are_named():
    house = at_work.house()
    kept, gone = (make.client(name) for name in ("Pranvi Somadur", "Oswin Threll"))
    for client in (kept, gone):
        make.signed_form(client, now=at_work.NOW)
    at_work.book(house, kept, at_work.span(11))
    at_work.book(house, gone, at_work.span(11, 30), machine=1, teacher=1)
    before = every_row()
    with pytest.raises(Refused) as refused:
        merge(kept, gone)
    assert codes(refused) == ["overlap"]
    says = refused.value.reasons[0].says
    assert "Thursday 12 March, 11:00 to 11:55" in says and "Thursday 12 March, 11:30 to 12:25" in says
    assert every_row() == before


def test_lessons_back_to_back_and_a_cancelled_one_do_not_stand_in_the_way():
    house = at_work.house()
    kept, gone = (make.client(name) for name in ("Pranvi Somadur", "Oswin Threll"))
    for client in (kept, gone):
        make.signed_form(client, now=at_work.NOW)
    at_work.book(house, kept, at_work.span(11))
    at_work.book(house, gone, at_work.span(11, 55), machine=1, teacher=1)
    cancelled = at_work.book(house, gone, at_work.span(11, minutes=30), machine=1, teacher=1)
    at_work.actions.mark_place(cancelled.pk, state="cancelled", by=None, now=at_work.NOW)
    merge(kept, gone)
    assert kept.places.count() == 3


def test_reminders_go_to_the_kept_cards_address_or_nowhere():
    house = at_work.house()
    kept, gone = (make.client(f"{name} Somadur", email=f"{name}@mail.example".lower()) for name in ("Pranvi", "Oswin"))
    make.signed_form(gone, now=at_work.NOW)
    agree = {"kind": "messages", "given_by": "Pranvi", "by": None, "now": at_work.NOW}
    actions.give_consent(gone.pk, **agree)
    place = at_work.book(house, gone, at_work.span(11))
    waiting = studio_models.Notice.objects.filter(about=f"place:{place.pk}", state="waiting")
    done = merge(kept, gone, now=at_work.NOW)
    assert waiting.count() == 0
    undo(done, now=at_work.NOW)
    assert set(waiting.values_list("contact__address", flat=True)) == {"oswin@mail.example"}
    merge(kept, gone, now=at_work.NOW, stay_open=["messages"])
    assert set(waiting.values_list("contact__address", "rests_on")) == {
        ("pranvi@mail.example", f"messages:{kept.pk}"),
    }


# --- the way back ----------------------------------------------------------------------------------------------------

cards = st.fixed_dictionaries(
    {
        "forms": st.lists(st.sampled_from([{}, BONES, WRIST, {"S1": ["yes"]}]), max_size=2),
        "begun": st.booleans(),
        "visits": st.integers(0, 3),
        "consents": st.sets(st.sampled_from(["touch", "photographs", "messages"])),
        "levels": st.dictionaries(st.sampled_from(["reformer", "chair"]), st.integers(1, 5)),
        "words": st.dictionaries(st.sampled_from(["pronoun", "say_it", "phone", "notes"]), st.sampled_from(["a", "b"])),
        "letter": st.booleans(),
        "reading": st.booleans(),
        "lessons": st.integers(0, 2),
    }
)


def live(client, life, house, teacher, at):
    """Give a card a life of its own; `at` keeps the lessons of two cards apart."""
    for number, told in enumerate(life["forms"]):
        make.signed_form(client, told, now=NOW - timedelta(days=30 - number - at))
    for kind in sorted(life["consents"]):
        actions.give_consent(client.pk, kind=kind, given_by="Ruvena", by=None, now=NOW - timedelta(days=9))
    for number in range(life["lessons"]):
        book(client, house, 8 + 2 * number + at)
    if life["begun"]:
        token = actions.make_form_link(client.pk, by=None, now=NOW).token
        actions.save_screen(token, screen_id="H02", posted={"H02": ["no"]}, now=NOW)
    for number in range(life["visits"]):
        actions.count_visit(client.pk, on=date(2026, 3, 1 + number + at), by=teacher, now=NOW)
    for kind, level in life["levels"].items():
        actions.sign_level(client.pk, kind=kind, level=level, by=teacher, now=NOW)
    kept_from_before(client, life, teacher)


def book(client, house, hour):
    try:
        at_work.book(house, client, at_work.span(hour, day=date(2026, 3, 19)), now=NOW)
    except Refused:
        # No form, or one that is not current: this card books nothing.
        return


def kept_from_before(client, life, teacher):
    """Rows that other deeds make: a reading, a letter that is waited for, one that came, a wish of the teacher."""
    if life["reading"]:
        row = models.RestReading(id=uuid4(), client=client, taken_at=NOW, taken_by=teacher)
        told = {"is_treated": None, "has_signs": None, "standing_drop": None, "is_faint": None}
        values = {"pressures": [[124, 78]], "heart_rate": 64, **told}
        row.sealed_values = seals.sealed(values, row=row, column="sealed_values", client=client)
        row.save(force_insert=True)
    if life["letter"]:
        file = models.StoredFile.objects.create(
            client=client, kind="letter", media_type="application/pdf", size=1, made_at=NOW
        )
        models.Letter.objects.create(client=client, file=file, arrived_at=NOW)
        if not client.letter_requests.filter(closed_at=None).exists():
            wanted = models.LetterRequest(id=uuid4(), client=client, opened_at=NOW)
            asks = [{"rule_id": "S1", "asks": "May she practise?"}]
            wanted.sealed_asks = seals.sealed(asks, row=wanted, column="sealed_asks", client=client)
            wanted.save(force_insert=True)


# Not shrunk: every example walks whole forms, and any one of them tells what went wrong.
@settings(max_examples=8, phases=[Phase.generate], suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(kept_life=cards, gone_life=cards, stay_open=st.sets(st.sampled_from(["touch", "messages"])), data=st.data())
def test_merging_and_parting_gives_the_very_same_rows(kept_life, gone_life, stay_open, data):
    with transaction.atomic():
        house, teacher = at_work.house(), make.person(Role.INSTRUCTOR)
        kept, gone = two(
            {"email": "r@mail.example", **kept_life["words"]}, {"email": "rt@mail.example", **gone_life["words"]}
        )
        live(kept, kept_life, house, teacher, 0)
        live(gone, gone_life, house, teacher, 1)
        choices = {field: data.draw(st.sampled_from(["kept", "gone"])) for field in ("name", "email", "phone", "notes")}
        before = every_row()
        done = merge(kept, gone, stay_open=stay_open, **choices)
        merged = every_row()
        assert sum(map(len, merged.values())) >= sum(map(len, before.values()))
        undo(done)
        assert every_row() == before
        transaction.set_rollback(True)


def test_what_came_since_the_merge_stays_and_a_field_changed_since_is_left(desk):
    kept, gone = two({"phone": "111"}, {"phone": "222", "pronoun": "she"})
    make.signed_form(gone, BONES)
    done = merge(kept, gone, phone="gone", by=desk)
    words = {"born_on": None, "home_id": None, "by": desk, "now": LATER}
    actions.change_client(kept.pk, phone="333", **words)
    actions.give_consent(kept.pk, kind="touch", given_by="Ruvena", by=desk, now=LATER)
    undo(done, by=desk, now=LATER + timedelta(days=2))
    kept.refresh_from_db()
    gone.refresh_from_db()
    assert (kept.phone, kept.pronoun, gone.phone, gone.pronoun) == ("333", "", "222", "she")
    assert (kept.consents.count(), gone.consents.count()) == (1, 0)
    assert (kept.health_forms.count(), gone.health_forms.count()) == (0, 1)
    assert "flex_loaded" in demands(gone)


def test_parted_on_another_day_each_card_is_screened_anew():
    kept, gone = two()
    make.signed_form(kept, WRIST)
    make.signed_form(gone, BONES)
    done = merge(kept, gone)
    undo(done, now=LATER + timedelta(days=5))
    for client, told in ((kept, {"C38"}), (gone, {"C01"})):
        found = models.Screening.objects.get(client=client, replaced_at=None)
        assert found.decided_at == LATER + timedelta(days=5)
        assert {one for limit in make.limits(found) for one in limit.because} == told


def test_a_form_signed_since_stays_in_force_and_the_old_card_gets_its_own_back():
    kept, gone = two()
    make.signed_form(kept, now=NOW - timedelta(days=2))
    make.signed_form(gone)
    done = merge(kept, gone)
    make.signed_form(kept, WRIST, now=LATER + timedelta(days=1))
    undo(done, now=LATER + timedelta(days=2))
    assert list(kept.health_forms.order_by("version").values_list("state", flat=True)) == ["replaced", "signed"]
    assert gone.health_forms.get().version == 1


def test_visits_counted_since_are_the_kept_cards():
    kept, gone = two()
    actions.count_visit(gone.pk, on=date(2026, 3, 4), by=None, now=NOW)
    done = merge(kept, gone)
    actions.count_visit(kept.pk, on=date(2026, 3, 18), by=None, now=LATER)
    undo(done)
    kept.refresh_from_db()
    gone.refresh_from_db()
    assert (kept.visits, gone.visits) == (1, 1)


def test_a_merge_of_a_merge_is_undone_from_the_last_one_back():
    kept, gone = two()
    third = make.client("Odalys Venn")
    first = merge(kept, gone)
    second = merge(third, kept)
    assert looked_up.kept_card(gone.pk) == third.pk
    with pytest.raises(Refused) as refused:
        undo(first)
    assert codes(refused) == ["merged_on"]
    undo(second)
    assert undo(first).undone_at == LATER
    assert undo(first, now=LATER + timedelta(days=1)).undone_at == LATER


def test_every_column_that_names_a_client_moves_or_is_known_to_stay():
    unmoved = {"clients.client.merged_into", "clients.merge.kept", "clients.merge.gone", "clients.storedfile.client"}
    found = {
        f"{model._meta.label_lower}.{field.name}"
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if field.concrete and field.related_model is models.Client
    }
    assert found == unmoved | {pointer.name for pointer in looked_up.pointers()}


@pytest.mark.django_db(transaction=True)
def test_of_two_desks_that_merge_the_same_pair_one_does():
    kept, gone = two()
    make.signed_form(gone, BONES)

    def go(number):
        try:
            return str(merge(*((kept, gone) if number else (gone, kept))).pk)
        except Refused as refused:
            return refused.reasons[0].code
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as desks:
        answers = list(desks.map(go, range(2)))
    assert models.Merge.objects.count() == 1
    assert "merged_already" in answers


def test_the_columns_of_a_card_are_all_chosen_between_or_kept_for_a_reason():
    chosen = set(merging.COLUMNS)
    rest = {field.attname for field in models.Client._meta.concrete_fields} - chosen
    assert rest == {
        "id", "name_key", "visits", "last_visit", "wrapped_key", "made_by_id", "made_at", "imported_in_id",
        "archived_at", "merged_into_id", "erased_at",
    }  # fmt: skip


def picture(colour):
    made = io.BytesIO()
    Image.new("RGB", (120, 90), colour).save(made, "PNG")
    return made.getvalue()


def test_a_photograph_of_the_old_card_is_shown_on_the_kept_one_and_goes_with_the_consent(settings, tmp_path):
    settings.FILES_DIR, desk = tmp_path, make.person()
    kept, gone = two()
    for client in (kept, gone):
        actions.give_consent(client.pk, kind="photographs", given_by="Ruvena", by=desk, now=NOW)
        actions.keep_photograph(client.pk, content=picture("teal"), by=desk, now=NOW)
    chosen = queries.photograph_of(gone.pk)
    merge(kept, gone, photograph="gone")
    assert queries.photograph_of(kept.pk) == chosen
    assert actions.read_file(chosen, by=desk, now=LATER).media_type.startswith("image/")
    actions.withdraw_consent(kept.pk, kind="photographs", by=desk, now=LATER)
    assert queries.photograph_of(kept.pk) is queries.photograph_of(gone.pk) is None


def test_a_photograph_is_not_shown_when_only_one_card_agreed_and_comes_back_when_they_part(settings, tmp_path):
    settings.FILES_DIR, desk = tmp_path, make.person()
    kept, gone = two()
    actions.give_consent(kept.pk, kind="photographs", given_by="Ruvena", by=desk, now=NOW)
    shown = actions.keep_photograph(kept.pk, content=picture("teal"), by=desk, now=NOW)
    done = merge(kept, gone)
    assert queries.photograph_of(kept.pk) is None
    undo(done)
    assert queries.photograph_of(kept.pk) == shown.pk
