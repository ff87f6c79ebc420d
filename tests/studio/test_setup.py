"""A studio's first day: from an empty house to an open one, step by step, each open to a second look."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, time
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from studio import models, queries
from studio.actions import house as actions
from studio.doors.fields import StretchesField, stretches_line
from studio.pages.welcome import likely_zone
from studio.rules import Refused, Role, first_day, house
from tests import make, make_scheduling
from tests.conftest import logged_in
from tests.make import NOW, PASSWORD

ACCOUNT = {
    "name": "Teodora Quist",
    "email": "teodora@studio.example",
    "password": PASSWORD,
    "again": PASSWORD,
    "also": ["desk"],
}
PLACE = {
    "business": "Slow Carriage House",
    "emergency_number": "112",
    "name": "Weir Street",
    "time_zone": "Europe/Lisbon",
    "address": "",
}
WEEK = {f"day_{weekday}": "7:00-12:00, 14:00 – 21:00" for weekday in range(5)}
POLICY = {"lesson_minutes": "55", "turnaround_minutes": "5", "cancel_hours": "12", "reminder_hours": "48, 3"}
TEACHER = {"name": "Ngaire Tolland", "email": "ngaire@studio.example", "roles": ["instructor"]}

walls = st.times().map(lambda wall: wall.replace(second=0, microsecond=0, tzinfo=None))


def step(name: str) -> str:
    return reverse(f"studio:welcome-{name}")


@pytest.fixture
def begun(client, db) -> Client:
    """A first day that has its owner and its location."""
    client.post(step("account"), ACCOUNT)
    client.post(step("house"), PLACE)
    return client


# --- rules and fields -----------------------------------------------------------------------------------------------


def test_stretches_that_touch_are_one_day_and_do_not_overlap():
    assert house.hours_reasons({0: [(time(7), time(12)), (time(12), time(21))]}) == []


@given(walls, walls)
def test_a_stretch_is_fine_exactly_when_it_closes_after_it_opens(opens, closes):
    assert (house.hours_reasons({3: [(opens, closes)]}) == []) is (opens < closes)


@given(st.lists(st.tuples(walls, walls), max_size=4))
def test_a_line_of_stretches_reads_back_what_was_written(stretches):
    assert StretchesField().clean(stretches_line(stretches)) == stretches


@given(st.text(max_size=200))
def test_any_line_is_read_or_refused_in_words(line):
    field = StretchesField()
    try:
        read = field.clean(line)
    except Exception as error:
        assert type(error).__name__ == "ValidationError"
    else:
        assert all(isinstance(opens, time) and isinstance(closes, time) for opens, closes in read)


def test_the_door_says_what_a_person_in_front_of_it_would_see():
    day = [(time(14), time(21)), (time(7), time(12))]
    assert house.door_words("Weir Street", day, time(6, 59), shut_today=False) == "Weir Street opens at 07:00"
    assert house.door_words("Weir Street", day, time(7), shut_today=False) == "Weir Street is open until 12:00"
    assert house.door_words("Weir Street", day, time(12), shut_today=False) == "Weir Street opens at 14:00"
    assert house.door_words("Weir Street", day, time(21), shut_today=False) == "Weir Street is closed for today"
    assert house.door_words("Weir Street", day, time(8), shut_today=True) == "Weir Street is closed today"


@pytest.mark.parametrize(
    ("wall", "words"),
    [(time(0), "morning"), (time(11, 59), "morning"), (time(12), "afternoon"), (time(18), "evening")],
)
def test_the_greeting_goes_by_the_studios_clock(wall, words):
    assert house.greeting("Teodora Quist", wall) == f"Good {words}, Teodora."


def test_the_likely_zone_is_one_a_studio_may_lie_in():
    assert likely_zone() in actions.zone_names()


# --- the first day --------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_an_empty_house_leads_from_the_front_page_to_the_first_account(client):
    page = client.get("/", follow=True)
    assert page.request["PATH_INFO"] == step("account")
    assert b"<h1>You</h1>" in page.content


@pytest.mark.django_db
def test_a_first_day_goes_from_the_account_to_an_open_house(client):
    assert client.post(step("account"), ACCOUNT).url == step("house")
    assert client.post(step("house"), PLACE).url == step("hours")
    assert client.post(step("hours"), WEEK).url == step("machines")
    assert client.post(step("machines")).url == step("teachers")
    assert client.post(step("teachers"), TEACHER).url == step("teachers")
    assert client.post(step("teachers"), {"done": "1"}).url == step("policy")
    assert client.post(step("policy"), POLICY).status_code == 302
    assert queries.is_set_up()
    [place] = queries.studios()
    assert (place.name, place.zone.key, place.policy.reminder_hours) == ("Weir Street", "Europe/Lisbon", (48, 3))
    assert place.hours[4] == [(time(7), time(12)), (time(14), time(21))] and 5 not in place.hours
    assert models.Notice.objects.get(kind="invitation").contact.address == TEACHER["email"]
    assert client.get(step("house")).url == "/"


@pytest.mark.django_db
def test_each_step_shows_what_was_kept_and_may_be_kept_again(begun):
    page = begun.get(step("house"))
    assert page.context["form"].initial["name"] == "Weir Street"
    begun.post(step("house"), PLACE | {"name": "Mill Lane", "time_zone": "America/Halifax"})
    begun.post(step("hours"), WEEK)
    begun.post(step("hours"), {"day_6": "9-13"})
    [place] = queries.studios()
    assert (place.name, place.zone.key, place.hours) == ("Mill Lane", "America/Halifax", {6: [(time(9), time(13))]})


@pytest.mark.django_db
def test_a_first_day_goes_on_where_it_stopped_also_after_signing_in_again(begun):
    assert begun.get(reverse("studio:welcome")).url == step("hours")
    begun.post(reverse("studio:logout"))
    assert begun.get(reverse("studio:welcome")).url.startswith(reverse("studio:login"))
    begun.post(reverse("studio:login"), {"username": ACCOUNT["email"], "password": PASSWORD})
    assert begun.get("/", follow=True).request["PATH_INFO"] == step("hours")


@pytest.mark.django_db
def test_a_first_day_resumes_at_the_first_step_whose_rows_are_missing(begun):
    def resumes() -> str:
        return begun.get(reverse("studio:welcome")).url

    begun.post(step("hours"), WEEK)
    assert resumes() == step("machines")
    begun.post(step("machines"))
    begun.post(step("teachers"), TEACHER)
    assert resumes() == step("machines")
    [place] = models.Studio.objects.all()
    room = make_scheduling.actions.add_room(studio_id=place.pk, name="Long Room", by=None, now=NOW)
    make_scheduling.machine(place, room, "Reformer 1")
    assert resumes() == step("policy")
    models.Person.objects.filter(email=TEACHER["email"]).delete()
    assert resumes() == step("teachers")


def test_the_steps_are_done_in_their_order_and_the_last_stays_open():
    done = dict.fromkeys(first_day.STEPS, True)
    assert first_day.first_open({}) == "account"
    assert first_day.first_open(done | {"hours": False, "policy": False}) == "hours"
    assert first_day.first_open(done) == "policy"


@pytest.mark.django_db
def test_a_step_that_was_left_out_shows_as_open_and_not_as_done(begun):
    begun.post(step("hours"), WEEK)
    shown = {one["name"]: (one["open"], one["done"]) for one in begun.get(step("policy")).context["steps"]}
    assert shown["Hours"] == (True, True) and shown["Machines"] == shown["Teachers"] == (True, False)


@pytest.mark.django_db
def test_the_owner_works_at_the_desk_unless_she_says_otherwise(client):
    page = client.get(step("account"))
    assert page.context["form"]["also"].value() == ["desk"]
    client.post(step("account"), ACCOUNT)
    client.post(step("house"), PLACE)
    client.post(step("hours"), WEEK)
    day_sheet = client.post(step("policy"), POLICY, follow=True)
    assert day_sheet.request["PATH_INFO"] == reverse("scheduling:day-sheet")
    assert [place["name"] for place in day_sheet.context["workplaces"]] == ["Desk", "Office"]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("also", "roles"), [([], ["owner"]), (["instructor"], ["instructor", "owner"]), (["owner"], None), (["king"], None)]
)
def test_the_first_account_gets_the_roles_she_ticks_and_no_others(client, also, roles):
    answer = client.post(step("account"), ACCOUNT | {"also": also})
    person = models.Person.objects.first()
    assert (answer.status_code, person and person.roles) == (302 if roles else 422, roles)


@pytest.mark.django_db
def test_an_owner_who_teaches_finds_her_own_clearance_among_the_teachers(client):
    client.post(step("account"), ACCOUNT | {"also": ["desk", "instructor"]})
    client.post(step("house"), PLACE)
    teaching = reverse("scheduling:instructor", args=[models.Person.objects.get().pk])
    assert teaching in client.get(step("teachers")).content.decode()
    clearance = client.get(teaching)
    assert clearance.status_code == 200 and f'href="{reverse("studio:welcome")}"' in clearance.content.decode()


# --- whose house it is ----------------------------------------------------------------------------------------------


@given(st.text(), st.text())
def test_the_code_opens_for_its_own_secret_however_it_is_written_and_for_no_other(secret, other):
    code = first_day.code(secret)
    assert len(code.replace("-", "")) == 12
    for written in (code, code.lower(), code.replace("-", ""), f"  {code.replace('-', ' ')} "):
        assert first_day.opens(written, secret)
        assert first_day.opens(written, other) is (other == secret)
    assert not first_day.opens("", secret)


@given(st.text(max_size=60))
def test_nothing_that_is_typed_breaks_the_comparison(typed):
    assert first_day.opens(typed, "a secret") in (True, False)


@pytest.mark.django_db
@pytest.mark.parametrize("code", [None, "", "AAAA-BBBB-CCCC", "x" * 50, "ⅷ🌊"])
def test_in_production_a_stranger_without_the_code_gets_no_house(client, settings, code):
    settings.PRODUCTION = True
    page = client.post(step("account"), ACCOUNT | ({} if code is None else {"code": code}))
    assert page.status_code == 422
    assert list(page.context["form"].errors) == ["code"]
    assert not models.Person.objects.exists()


@pytest.mark.django_db
def test_in_production_the_printed_code_opens_the_house_once(client, settings):
    settings.PRODUCTION = True
    printed = StringIO()
    call_command("prepare", no_demo=True, stdout=printed)
    code = printed.getvalue().partition("The code of the first day: ")[2].split()[0]
    assert client.post(step("account"), ACCOUNT | {"code": code}).url == step("house")
    after = StringIO()
    call_command("prepare", no_demo=True, stdout=after)
    assert "code" not in after.getvalue()
    assert Client().post(step("account"), ACCOUNT | {"code": code}).url.startswith(reverse("studio:login"))


@pytest.mark.django_db
def test_a_house_machine_prints_and_asks_for_no_code(client):
    printed = StringIO()
    call_command("prepare", no_demo=True, stdout=printed)
    assert "code" not in printed.getvalue()
    assert "code" not in client.get(step("account")).context["form"].fields


@pytest.mark.django_db
def test_no_action_opens_a_house_in_production_without_the_code(settings):
    settings.PRODUCTION = True
    with pytest.raises(Refused):
        actions.open_house(name="T", email="t@x.example", password=PASSWORD, now=NOW)


# --- steps ----------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_later_steps_wait_for_earlier_ones(client):
    assert client.get(step("hours")).url == step("account")
    client.post(step("account"), ACCOUNT)
    assert client.get(step("policy")).url == step("house")


@pytest.mark.django_db
def test_a_house_without_hours_is_not_opened(begun):
    page = begun.post(step("policy"), POLICY)
    assert (page.status_code, queries.is_set_up()) == (422, False)
    assert b"no opening hours yet" in page.content


@pytest.mark.django_db
def test_a_stranger_cannot_go_on_with_somebody_elses_first_day(begun):
    for name in ("account", "house", "hours", "machines", "teachers", "policy"):
        assert Client().get(step(name)).url.startswith(reverse("studio:login"))
        assert Client().post(step(name), PLACE).url.startswith(reverse("studio:login"))


@pytest.mark.django_db
def test_an_invited_teacher_cannot_go_on_with_the_owners_first_day(begun, as_instructor):
    assert as_instructor.get(step("house")).status_code == 403


@pytest.mark.django_db(transaction=True)
def test_two_strangers_at_an_empty_house_make_one_owner():
    def knock(number: int) -> bool:
        try:
            actions.open_house(name=f"Owner {number}", email=f"o{number}@x.example", password=PASSWORD, now=NOW)
            return True
        except Refused:
            return False
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        assert sum(pool.map(knock, range(4))) == 1
    assert models.Person.objects.count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "changed", "field"),
    [
        ("house", {"time_zone": "Atlantis/Deep"}, "time_zone"),
        ("house", {"time_zone": "../../etc/passwd"}, "time_zone"),
        ("house", {"name": "  "}, "name"),
        ("house", {"business": ""}, "business"),
        ("house", {"business": "x" * 121}, "business"),
        ("hours", {"day_2": "21:00-7:00"}, "day_2"),
        ("hours", {"day_2": "7-12, 11-21"}, "day_2"),
        ("hours", {"day_2": "25:00-26:00"}, "day_2"),
        ("hours", {"day_2": "early"}, "day_2"),
        ("policy", {"lesson_minutes": "5"}, "lesson_minutes"),
        ("policy", {"cancel_hours": "-1"}, "cancel_hours"),
        ("policy", {"turnaround_minutes": "9999999999999999999999"}, "turnaround_minutes"),
        ("policy", {"reminder_hours": "48, soon"}, "reminder_hours"),
        ("policy", {"reminder_hours": "9, 8, 7, 6, 5, 4"}, "reminder_hours"),
    ],
)
def test_what_cannot_be_kept_says_so_beside_the_field_and_keeps_nothing(begun, name, changed, field):
    posted = {"house": PLACE, "hours": WEEK, "policy": POLICY}[name] | changed
    before = queries.studios()
    page = begun.post(step(name), posted)
    assert page.status_code == 422
    assert f'id="id_{field}_error"'.encode() in page.content
    assert queries.studios() == before


@pytest.mark.django_db
def test_a_week_without_an_open_day_is_refused(begun):
    page = begun.post(step("hours"), {})
    assert page.context["form"].errors["day_0"] == ["Open on at least one day."]


@pytest.mark.django_db
def test_names_of_any_script_come_back_as_written(client):
    client.post(step("account"), ACCOUNT | {"name": "נועה 🌊 Quist"})
    client.post(step("house"), PLACE | {"business": "سرعة <b>هادئة</b>"})
    page = client.get(step("house")).content.decode()
    assert models.Person.objects.get().name == "נועה 🌊 Quist"
    assert "سرعة &lt;b&gt;هادئة&lt;/b&gt;" in page


# --- the house in the office ----------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_set_up_in_one_go_makes_an_open_house_with_an_owner():
    owner = actions.set_up(
        business="Slow Carriage House", owner_name="T", owner_email="t@x.example", password=PASSWORD, now=NOW
    )
    assert (owner.roles, queries.signboard()) == ([Role.OWNER], ("Slow Carriage House", True))


@pytest.mark.django_db
def test_a_second_location_has_its_own_zone_hours_and_policy(as_owner):
    first = make.studio("Europe/Lisbon")
    as_owner.post(reverse("studio:add-studio"), {"name": "Mill Lane", "time_zone": "America/Halifax"})
    second = queries.studios()[1]
    as_owner.post(reverse("studio:hours", args=[second.id]), {"day_6": "9:00-13:00"})
    as_owner.post(reverse("studio:policy", args=[second.id]), POLICY | {"lesson_minutes": "45"})
    after = {place.id: place for place in queries.studios()}
    assert (after[second.id].hours, after[second.id].policy.lesson_minutes) == ({6: [(time(9), time(13))]}, 45)
    assert after[first.pk].policy.lesson_minutes == 55


@pytest.mark.django_db
def test_two_locations_cannot_share_a_name(as_owner):
    place = make.studio()
    page = as_owner.post(reverse("studio:add-studio"), {"name": place.name, "time_zone": "Europe/Lisbon"})
    assert page.context["form"].errors["name"] == ["Another location has this name."]


@pytest.mark.django_db
def test_days_off_are_kept_and_taken_back(as_owner):
    place = make.studio()
    posted = {"first_day": "2031-12-24", "last_day": "2031-12-26", "why": "Holidays"}
    as_owner.post(reverse("studio:close-days", args=[place.pk]), posted)
    view = queries.studio(place.pk)
    assert view.shut_on(date(2031, 12, 26)) and not view.shut_on(date(2031, 12, 27))
    as_owner.post(reverse("studio:open-days", args=[view.closures[0].id]))
    assert queries.studio(place.pk).closures == ()


@pytest.mark.django_db
def test_days_off_that_have_gone_by_are_no_longer_shown(owner):
    place = make.studio()
    for day, why in ((date(2031, 3, 11), "Yesterday"), (date(2031, 3, 12), "Today")):
        actions.close_days(place.pk, first_day=day, last_day=day, why=why, by=owner, now=NOW)
    with time_machine.travel(NOW, tick=False):
        text = logged_in(owner).get(reverse("studio:house")).content.decode()
    assert "Today" in text and "Yesterday" not in text


@pytest.mark.django_db
def test_days_off_cannot_end_before_they_begin(as_owner):
    place = make.studio()
    posted = {"first_day": "2031-12-26", "last_day": "2031-12-24", "why": "Holidays"}
    page = as_owner.post(reverse("studio:close-days", args=[place.pk]), posted)
    assert list(page.context["form"].errors) == ["last_day"]


@pytest.mark.django_db
def test_every_deed_about_the_house_is_in_the_audit(owner):
    place = make.studio()
    models.Business.objects.update(set_up_at=None)
    actions.name_house(business="House", by=owner, now=NOW)
    added = actions.add_studio(name="Mill Lane", time_zone="UTC", by=owner, now=NOW)
    actions.change_studio(added.pk, name="Mill Row", time_zone="UTC", by=owner, now=NOW)
    actions.set_hours(place.pk, {0: [(time(7), time(9))]}, by=owner, now=NOW)
    closure = actions.close_days(place.pk, first_day=NOW.date(), last_day=NOW.date(), why="x", by=owner, now=NOW)
    actions.open_days(closure.pk, by=owner, now=NOW)
    actions.open_for_work(
        policy={"lesson_minutes": 50, "turnaround_minutes": 5, "cancel_hours": 12, "reminder_hours": [3]},
        by=owner,
        now=NOW,
    )
    verbs = list(models.AuditEntry.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs == [
        "name house",
        "add studio",
        "change studio",
        "set hours",
        "close days",
        "open days",
        "set policy",
        "set policy",
        "finish set-up",
    ]


@pytest.mark.django_db
def test_the_studios_need_three_queries_for_any_number(django_assert_num_queries):
    make.studio()
    with django_assert_num_queries(3):
        queries.studios()
    for _ in range(49):
        make.studio()
    with django_assert_num_queries(3):
        assert len(queries.studios()) == 50
