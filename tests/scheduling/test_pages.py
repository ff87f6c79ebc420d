"""The desk's and the owner's pages: what they show, what they refuse, and that nothing typed is lost."""

import re
from datetime import UTC, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.urls import reverse

from scheduling import actions, models
from scheduling.rules.places import LessonKind, PlaceState
from studio.models import Notice
from studio.rules import ApparatusKind, Span
from tests import make_clients
from tests import make_scheduling as at_work
from tests.make_scheduling import DAY, at, span

pytestmark = pytest.mark.django_db
MORNING = datetime(2026, 3, 12, 8, 0, tzinfo=UTC)
HTMX = {"headers": {"HX-Request": "true"}}


@pytest.fixture(autouse=True)
def in_the_morning():
    with time_machine.travel(MORNING, tick=False):
        yield


@pytest.fixture
def house():
    return at_work.house()


@pytest.fixture
def pranvi():
    return at_work.client("Pranvi Somadur", email="pranvi@mail.example")


@pytest.fixture
def place(house, pranvi):
    return at_work.book(house, pranvi, span(11))


def url(name: str, *args: object) -> str:
    return reverse(f"scheduling:{name}", args=args)


def page(client, address: str, status: int = 200, **more) -> str:
    answer = client.get(address, **more)
    assert answer.status_code == status
    return answer.content.decode()


# --- day sheet -------------------------------------------------------------------------------------------------------


def test_the_sheet_shows_machines_places_and_what_is_free(as_desk, place):
    text = page(as_desk, url("day-sheet"))
    assert "Thursday 12 March" in text and "1L 2M 2H" in text
    assert 'aria-label="Pranvi Somadur, Reformer 1, 11:00 to 11:55, Iselde Ottrevane, private, new client"' in text
    assert 'aria-label="Free, Reformer 2, 8:00 to 21:00"' in text
    assert "<b>1</b> place" in text


def test_the_sheet_never_shows_what_a_form_says(as_desk, house):
    made = make_clients.client("Pavrin Dušvald", now=at_work.NOW)
    at_work.give_form(made, until=DAY, outcome=at_work.Outcome.CLEAR_LIMITED)
    at_work.book(house, made, span(11))
    text = page(as_desk, url("changes"), data={"day": DAY}).lower()
    assert "pavrin" in text and "limit" not in text and "clear" not in text


def test_every_page_prints_the_clock_of_the_studio(as_desk, pranvi):
    """Amsterdam is an hour ahead of UTC in March (zone database)."""
    amsterdam = ZoneInfo("Europe/Amsterdam")
    weir = at_work.house("Europe/Amsterdam", name="Weir Street")
    held = at_work.book(weir, pranvi, span(11, zone=amsterdam))
    slip = page(as_desk, url("place", held.pk))
    assert "11:00 to 11:55" in slip and "10:00" not in slip
    wanted = {"day": DAY, "earliest": "15:00", "latest": "15:55", "client": pranvi.pk}
    found = page(as_desk, url("openings"), data=wanted)
    assert "15:00 to 15:55" in found and "14:00" not in found
    assert 'value="2026-03-12T15:00:00+01:00"' in found


def test_the_nearest_time_of_a_slip_moves_the_place_to_the_hour_it_names(as_desk, pranvi):
    amsterdam = ZoneInfo("Europe/Amsterdam")
    weir = at_work.house("Europe/Amsterdam", name="Weir Street", reformers=1)
    held = at_work.book(weir, pranvi, span(11, zone=amsterdam))
    slip = page(as_desk, url("place", held.pk))
    starts = set(re.findall(r'name="start" value="([\d:]+)"', slip))
    named = set(re.findall(r"<b>(?:[^<]*, )?(\d\d:\d\d)</b> with", slip))
    assert "11:00" in starts and starts == named


def test_studios_whose_clocks_agree_share_one_line_of_the_present(as_desk, house):
    at_work.house(name="Mill Lane")
    text = page(as_desk, url("day-sheet"))
    assert text.count('class="peg"') == 1 and 'class="band"' not in text


def test_each_clock_hangs_over_its_own_rows_under_the_name_of_its_studio(as_desk, house):
    at_work.house("Europe/Amsterdam", name="Weir Street")
    text = page(as_desk, url("day-sheet"))
    assert text.count('class="peg"') == 2 and text.count('class="band"') == 2
    assert ">8:00</text>" in text and ">9:00</text>" in text
    assert "1 hour ahead of Tannery Yard" in text


@pytest.mark.parametrize(
    ("until", "words"),
    [
        (at(16), "back at 16:00"),
        (at(0, day=DAY + timedelta(days=2)), "back Saturday 14 March"),
        (at(23, 59, day=DAY), "back at 23:59"),
        (at(23, 59, day=DAY + timedelta(days=1)), "back Saturday 14 March"),
        (at(10, 30, day=DAY + timedelta(days=2)), "back Saturday 14 March, 10:30"),
    ],
)
def test_a_machine_out_of_service_says_when_it_is_back(as_desk, house, until, words):
    out = Span(at(0), until)
    actions.take_out_of_service(house.reformers[0].pk, span=out, why="A rope is frayed", by=None, now=at_work.NOW)
    assert f"A rope is frayed<br>{words}<" in page(as_desk, url("day-sheet"))


def test_rows_without_a_place_are_lower(as_desk, place):
    text = page(as_desk, url("day-sheet"))
    assert text.count('class="quiet-row"') == 2


@pytest.mark.parametrize(
    "day", ["2026-13-45", "yesterday", "0001-01-01", "9999-12-31", "2026-03-12' OR 1=1", "💙" * 50]
)
def test_a_day_that_is_none_shows_today_and_says_so(as_desk, house, day):
    answer = as_desk.get(url("day-sheet"), {"day": day})
    assert answer.status_code == 200
    assert "That is no day; this is today." in answer.content.decode()


def test_an_empty_house_says_what_to_do_first(as_owner):
    text = page(as_owner, url("day-sheet"))
    assert "what to do first" in text and url("machines") in text
    assert reverse("studio:invite") in text and reverse("clients:add") in text


def test_what_is_done_of_the_first_deeds_is_ticked_until_the_first_lesson_stands(as_owner, as_desk, house):
    text = page(as_owner, url("day-sheet"))
    assert "what to do first" in text and url("machines") not in text and reverse("clients:add") in text
    at_work.book(house, at_work.client("Oswin Threll"), span(11, day=DAY + timedelta(days=1)))
    assert "what to do first" not in page(as_owner, url("day-sheet"))


def test_the_desk_is_told_who_does_what_it_may_not_do(as_desk):
    text = page(as_desk, url("day-sheet"))
    assert "The owner does that in the office." in text
    assert url("machines") not in text and reverse("studio:invite") not in text


def test_nothing_is_sent_when_nothing_changed(as_desk, house, place):
    seen = as_desk.get(url("day-sheet")).context["sheet"].version
    assert as_desk.get(url("changes"), {"day": DAY, "seen": seen}).status_code == 204
    at_work.book(house, at_work.client("Oswin Threll"), span(13))
    answer = as_desk.get(url("changes"), {"day": DAY, "seen": seen})
    assert answer.status_code == 200 and "Oswin" in answer.content.decode()


def test_a_cancelled_place_whose_time_is_given_away_is_still_found(as_desk, house, place):
    actions.mark_place(place.pk, state=PlaceState.CANCELLED, by=None, now=MORNING)
    at_work.book(house, at_work.client("Oswin Threll"), span(11), now=MORNING)
    text = page(as_desk, url("day-sheet"))
    assert "1 cancelled, the time given to others" in text and url("place", place.pk) in text


def test_two_clocks_give_two_plumb_lines(as_desk, place):
    at_work.house("Europe/Berlin", name="Weir Street")
    text = page(as_desk, url("day-sheet"))
    assert ">8:00</text>" in text and ">9:00</text>" in text


# --- slip ------------------------------------------------------------------------------------------------------------


def test_the_slip_is_a_fragment_for_htmx_and_a_page_without(as_desk, place):
    fragment, whole = page(as_desk, url("place", place.pk), **HTMX), page(as_desk, url("place", place.pk))
    assert fragment.lstrip().startswith("<aside") and "<html" in whole
    for text in (fragment, whole):
        assert "11:00 to 11:55" in text and "Reformer 1, Tannery Yard" in text and "form current" in text


def test_a_tap_on_here_can_be_undone(as_desk, place):
    answer = as_desk.post(url("place-state", place.pk), {"state": "here"}, **HTMX)
    assert answer.headers["HX-Trigger"] == "places-changed"
    assert url("place-undo", place.pk) in answer.content.decode()
    place.refresh_from_db()
    assert place.state == "here"
    as_desk.post(url("place-undo", place.pk))
    place.refresh_from_db()
    assert place.state == "booked"


def test_the_slip_says_for_how_long_somebody_is_waited_for(as_desk, house, place):
    assert "minutes</p>" not in page(as_desk, url("place", place.pk))
    with time_machine.travel(at(11, 12), tick=False):
        assert "12 minutes</p>" in page(as_desk, url("place", place.pk))


def test_the_button_says_when_a_cancellation_is_late(as_desk, place, house, pranvi):
    assert "Cancelled late" in page(as_desk, url("place", place.pk))
    later = at_work.book(house, pranvi, span(11, day=DAY + timedelta(days=1)))
    text = page(as_desk, url("place", later.pk))
    assert "Cancelled</button>" in text


def test_an_unknown_state_is_refused_kindly(as_desk, place):
    answer = as_desk.post(url("place-state", place.pk), {"state": "eaten"})
    assert answer.status_code == 400 and "no such state" in answer.content.decode()


def test_an_unknown_place_is_not_there(as_desk, house):
    for name in ("place", "move"):
        assert as_desk.get(url(name, uuid4())).status_code == 404
    assert as_desk.post(url("place-state", uuid4()), {"state": "here"}).status_code == 404


def test_moving_into_a_clash_shows_by_whom_and_what_fits_instead(as_desk, house, place):
    at_work.book(house, at_work.client("Noorin Qazimbar"), span(12, 30))
    wish = {
        "day": DAY.isoformat(),
        "start": "12:30",
        "minutes": 55,
        "instructor": house.teachers[0].pk,
        "apparatus": house.reformers[0].pk,
    }
    answer = as_desk.post(url("move", place.pk), wish, **HTMX)
    text = answer.content.decode()
    assert answer.status_code == 409
    assert "by Noorin Qazimbar, with Iselde Ottrevane" in text and "What fits instead" in text
    assert 'value="12:30"' in text
    place.refresh_from_db()
    assert place.during.lower == at(11)


def test_a_move_can_be_undone(as_desk, house, place):
    wish = {
        "day": DAY.isoformat(),
        "start": "15:00",
        "minutes": 55,
        "instructor": house.teachers[0].pk,
        "apparatus": house.reformers[1].pk,
    }
    answer = as_desk.post(url("move", place.pk), wish, **HTMX)
    back = next(part for part in answer.content.decode().split('"') if "/move/?day=" in part).replace("&amp;", "&")
    place.refresh_from_db()
    assert (place.during.lower, place.apparatus_id) == (at(15), house.reformers[1].pk)
    as_desk.post(back)
    place.refresh_from_db()
    assert (place.during.lower, place.apparatus_id) == (at(11), house.reformers[0].pk)


def test_a_cancelled_group_lesson_comes_back_with_everyone(as_desk, house, pranvi):
    first = at_work.book(house, pranvi, span(15), kind=LessonKind.DUET)
    at_work.book(
        house, at_work.client("Oswin Threll"), span(15), machine=1, kind=LessonKind.DUET, lesson_id=first.lesson_id
    )
    as_desk.post(url("cancel-lesson", first.pk))
    assert not models.Place.objects.filter(live=True).exists()
    as_desk.post(url("bring-back-lesson", first.pk))
    assert models.Place.objects.filter(live=True).count() == 2
    assert not Notice.objects.filter(kind="lesson_cancelled", state="waiting").exists()


# --- openings and booking --------------------------------------------------------------------------------------------


def search(desk, **wish) -> str:
    return page(desk, url("openings"), data={"day": DAY.isoformat(), **wish})


def booking(house, who, when=None, **changed) -> dict[str, object]:
    when = when or span(11)
    return {
        "client": who.pk,
        "apparatus": house.reformers[0].pk,
        "instructor": house.teachers[0].pk,
        "start": when.start.isoformat(),
        "minutes": int(when.minutes),
        "kind": "private",
        "search": f"client={who.pk}&day={DAY}&on=reformer",
        **changed,
    }


def test_a_name_typed_never_stands_in_an_address(as_desk, house, pranvi):
    answer = as_desk.post(url("openings"), {"who": "pranvi", "day": DAY.isoformat(), "on": "reformer"})
    assert answer.status_code == 302
    assert f"client={pranvi.pk}" in answer.url and "pranvi" not in answer.url.lower()


def test_several_of_a_name_are_offered_and_the_request_is_kept(as_desk, house, pranvi):
    at_work.client("Pranvi Lindqvarn")
    answer = as_desk.post(url("openings"), {"who": "pranvi", "minutes": "40"})
    text = answer.content.decode()
    assert answer.status_code == 200 and text.count("minutes=40") == 2 and 'value="pranvi"' in text


def test_openings_are_ranked_and_each_has_one_button(as_desk, house, pranvi):
    text = search(as_desk, client=str(pranvi.pk), on="reformer")
    assert text.count(f'action="{url("book")}"') == text.count('class="opening') - text.count('class="openings')
    assert "best first" in text


def test_without_a_client_openings_are_shown_and_not_booked(as_desk, house):
    text = search(as_desk, on="reformer")
    assert "Say for whom" in text and f'action="{url("book")}"' not in text


def test_booking_leads_to_the_day_with_an_undo(as_desk, house, pranvi):
    answer = as_desk.post(url("book"), booking(house, pranvi), follow=True)
    made = models.Place.objects.get()
    text = answer.content.decode()
    assert "Pranvi Somadur is booked on Thursday 12 March at 11:00, Reformer 1." in text
    assert url("take-back", made.pk) in text
    as_desk.post(url("take-back", made.pk))
    made.refresh_from_db()
    assert made.state == "cancelled"


def test_a_taken_time_comes_back_with_who_and_what_is_free(as_desk, house, place):
    other = at_work.client("Oswin Threll")
    answer = as_desk.post(url("book"), booking(house, other))
    text = answer.content.decode()
    assert answer.status_code == 409
    assert "by Pranvi Somadur, with Iselde Ottrevane" in text and "Nearest to it, and free" in text
    assert 'value="Oswin Threll"' in text and '<option value="reformer" selected>' in text


def test_when_nothing_fits_the_smallest_change_is_a_link(as_desk, house, pranvi):
    text = search(as_desk, client=str(pranvi.pk), on="reformer", earliest="06:00", latest="07:00")
    assert "Nothing fits. Change one thing:" in text and "earliest=" in text


@pytest.mark.parametrize(
    "broken",
    [
        {"client": "nobody"},
        {"start": "tomorrow"},
        {"start": "2026-03-12T11:00:00"},
        {"minutes": "-5"},
        {"apparatus": "99999999999999999999"},
        {"kind": "secret"},
        {"search": "x" * 10_000_000},
    ],
)
def test_a_broken_booking_is_a_clear_4xx(as_desk, house, pranvi, broken):
    answer = as_desk.post(url("book"), booking(house, pranvi, **broken))
    assert answer.status_code in (302, 400, 413)


def test_no_other_time_is_offered_to_somebody_whose_form_is_not_current(as_desk, house):
    lapsed = at_work.client("Oswin Threll", form_until=DAY - timedelta(days=1))
    assert "It comes before a booking." in search(as_desk, client=str(lapsed.pk), on="reformer")
    answer = as_desk.post(url("book"), booking(house, lapsed))
    text = answer.content.decode()
    assert answer.status_code == 409 and "health form is not current" in text
    assert "Nearest to it, and free" not in text and "Send or hand over the form" in text
    assert reverse("clients:card", args=[lapsed.pk]) in text


@pytest.mark.parametrize("words", [{"on": "reformer"}, {"on": "reformer", "earliest": "21:00"}])
def test_one_button_leads_in_the_openings(as_desk, house, pranvi, words):
    assert search(as_desk, client=str(pranvi.pk), **words).count('class="btn first') == 1


def test_a_booking_in_the_past_is_refused(as_desk, house, pranvi):
    answer = as_desk.post(url("book"), booking(house, pranvi, span(7)))
    assert answer.status_code == 409 and "That time has already gone by." in answer.content.decode()


@pytest.mark.parametrize("name", ["نسمار الوشندي", "Mei-Su 🌿 Zhanlu", "O'Hara <b>bold</b>"])
def test_any_name_stands_on_the_sheet(as_desk, house, name):
    made = at_work.client(name)
    as_desk.post(url("book"), booking(house, made))
    text = page(as_desk, url("day-sheet"))
    assert "<b>bold</b>" not in text
    assert name.split()[0].replace("'", "&#x27;") in text


# --- the owner -------------------------------------------------------------------------------------------------------


def test_use_and_load_stand_as_numbers(as_owner, place):
    text = page(as_owner, url("use"))
    assert "0.9 of 84.0 hours" in text and "Iselde Ottrevane" in text and "55 min" in text


@pytest.mark.parametrize("weeks", ["0", "-3", "ten", "99999999999", "٣"])
def test_any_number_of_weeks_is_survived(as_owner, house, weeks):
    page(as_owner, url("use"), data={"weeks": weeks})


def test_panels_are_fragments(as_owner, place, pranvi):
    names = ("use-panel", "load-panel", "home-owner", "home-desk", "home-desk-side", "setup-machines")
    for address in [*(url(name) for name in names), url("client-panel", pranvi.pk)]:
        assert "<html" not in page(as_owner, address)


def test_a_room_and_a_machine_are_put_in(as_owner, house):
    as_owner.post(url("add-room"), {"studio": house.studio.pk, "name": "Lantern"}, **HTMX)
    room = models.Room.objects.get(name="Lantern")
    machine = {"room": room.pk, "kind": "tower", "label": "Tower 1", "heavy": 0, "medium": 2, "light": 2}
    answer = as_owner.post(url("add-machine"), machine, **HTMX)
    assert "2L 2M" in answer.content.decode()
    assert models.Apparatus.objects.get(label="Tower 1").springs.count() == 4


def test_a_label_twice_stays_in_the_form_with_its_reason(as_owner, house):
    machine = {"room": house.room.pk, "kind": "reformer", "label": "Reformer 1", "heavy": 1, "medium": 0, "light": 0}
    answer = as_owner.post(url("add-machine"), machine, **HTMX)
    text = answer.content.decode()
    assert answer.status_code == 422 and "There is a Reformer 1 in Tannery Yard already." in text
    assert 'value="Reformer 1"' in text


def test_springs_and_service_of_a_machine_are_changed(as_owner, house):
    machine = house.reformers[0]
    as_owner.post(url("machine", machine.pk), {"heavy": 1, "medium": 1, "light": 0})
    assert machine.springs.filter(removed_on=None).count() == 2
    away = {"first_day": "2026-03-13", "starts": "09:00", "last_day": "2026-03-13", "ends": "12:00", "why": "rope"}
    as_owner.post(url("out-of-service", machine.pk), away)
    out = models.OutOfService.objects.get()
    assert out.during.lower == at(9, day=DAY + timedelta(days=1))
    as_owner.post(url("back-in-service", machine.pk, out.pk))
    assert not models.OutOfService.objects.exists()


def test_a_teachers_clearance_and_hours_are_kept(as_owner, house):
    person = at_work.make.person(at_work.Role.INSTRUCTOR, name="Tavik Quillmoor")
    wish = {
        "initials": "TQ",
        **dict.fromkeys((f"level_{kind}" for kind in ApparatusKind), "0"),
        "level_reformer": "3",
        f"hours_{house.studio.pk}_0": "7:00-12:00, 14:00-19:00",
    }
    assert as_owner.post(url("instructor", person.pk), wish).status_code == 302
    row = models.Instructor.objects.get(person=person)
    assert (row.hours.count(), row.may_teach.get().level) == (2, 3)
    text = page(as_owner, url("instructor", person.pk))
    assert "07:00-12:00, 14:00-19:00" in text


def test_time_off_with_lessons_in_it_is_refused_beside_the_form(as_owner, house, place):
    away = {"first_day": "2026-03-12", "starts": "00:00", "last_day": "2026-03-13", "ends": "00:00", "why": ""}
    answer = as_owner.post(url("time-off", house.teachers[0].person_id), away)
    assert answer.status_code == 422 and "teaches on 12 March 2026" in answer.content.decode()


def test_handing_over_lists_what_could_not_go(as_owner, house, place):
    mat_only = at_work.teacher("Tavik Quillmoor", "TQ", house, may_teach={ApparatusKind.MAT: 2})
    wish = {"from_instructor": house.teachers[0].pk, "to_instructor": mat_only.pk}
    text = as_owner.post(url("hand-over"), wish).content.decode()
    assert "0 lessons went over" in text and "does not teach on the reformer" in text
