"""The spine of the product as one story: a client goes through the whole job, on real parts.

The chapters follow each other on one stage: the web server, a Celery worker, a mail server and a browser, each of them
believing the day that the story tells. Pictures of every step are kept under var/journeys/.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta

import pytest
import redis
from django.conf import settings
from django.utils import timezone
from playwright.sync_api import Page, expect

from clients import models as client_models
from programming import models as programming_models
from scheduling import models as scheduling_models
from studio import models as studio_models
from tests import make_clients
from tests.conftest import PREFIX
from tests.journeys import cast
from tests.journeys.cast import MONDAY, THURSDAY, Cast, at
from tests.journeys.stage import Device, Stage, link_in, wait_until, words_of

pytestmark = pytest.mark.browser
State = studio_models.Notice.State
RUVENA = "ruvena@mail.example"
NINE = at(MONDAY, 9)
# What she tells: thin bones, without a fracture; everything else is quiet.
TOLD = {"H09": "yes", "H09.conditions": "C01"}
QUIET = ("no", "none", "usual", "light_moderate")


@dataclass
class Story:
    stage: Stage
    cast: Cast
    desk: Device
    other_desk: Device
    floor: Device
    link: str = ""
    seen: dict[str, str] = field(default_factory=dict)

    @property
    def ruvena(self) -> client_models.Client:
        return client_models.Client.objects.get(contact__address=RUVENA)

    @property
    def place(self) -> scheduling_models.Place:
        return scheduling_models.Place.objects.get(client=self.ruvena)


@pytest.fixture(scope="module")
def story(stage: Stage) -> Iterator[Story]:
    people = cast.gather()
    stage.at(NINE)
    stage.start_worker()
    desk, other = stage.device("desk"), stage.device("second desk")
    floor = stage.device("teacher's tablet", "stand", touch=True)
    desk.log_in(cast.DESK)
    other.log_in(cast.OTHER_DESK)
    floor.log_in(cast.TEACHER)
    yield Story(stage, people, desk, other, floor)


# --- a ----------------------------------------------------------------------------------------------------------------
def test_the_desk_adds_a_client_is_told_of_her_namesake_and_the_private_link_really_arrives(story):
    page = story.desk.go("/desk/clients/add/")
    fill_card(page, "Ruvena Tarnelow", RUVENA)
    page.get_by_role("button", name="Add the client").click()
    expect(page.get_by_role("alert")).to_contain_text("There is a card that looks like this one")
    story.desk.keep("a1-namesake-noticed", everywhere=True)
    page.get_by_role("button", name="Someone new, add the card").first.click()
    expect(page.locator("#messages")).to_contain_text("is on file")
    story.desk.keep("a2-card", everywhere=True)
    page.get_by_role("button", name="Send the form link").click()
    expect(page.locator("#messages")).to_contain_text("The private link is on its way")
    letter = story.stage.letter(RUVENA)
    story.link = link_in(letter)
    assert "Ruvena Tarnelow" in words_of(letter)
    assert story.link.startswith(f"{story.stage.home}/form/")
    story.desk.keep("a3-link-sent")


def test_the_same_address_on_another_card_is_noticed_and_nothing_is_saved(story):
    page = story.desk.go("/desk/clients/add/")
    fill_card(page, "Somebody Else", RUVENA)
    page.get_by_role("button", name="Add the client").click()
    expect(page.get_by_role("alert")).to_contain_text("Nothing has been saved yet")
    expect(page.get_by_role("alert")).to_contain_text(RUVENA)
    assert not client_models.Client.objects.filter(name="Somebody Else").exists()
    story.desk.keep("a4-address-noticed")


def fill_card(page: Page, name: str, email: str) -> None:
    page.fill("#id_name", name)
    page.fill("#id_email", email)
    page.fill("#id_born_on", "1966-05-02")


# --- b ----------------------------------------------------------------------------------------------------------------
def test_the_client_answers_on_a_tablet_one_screen_at_a_time_reloads_goes_on_and_signs(story):
    tablet = story.stage.device("client's tablet", "hand", touch=True)
    page = tablet.go(story.link)
    tablet.keep("b1-welcome", everywhere=True)
    page.get_by_role("link", name="Begin").tap()
    page.wait_for_url("**/ask/**")
    screens: list[str] = []
    while page.url.rstrip("/").rpartition("/")[2] != "card":
        screens.append(screen_of(page))
        if len(screens) == 6:
            page = comes_back(tablet, story.link, screens[-1])
        tablet.keep(f"b2-{len(screens):02}-{screens[-1]}", everywhere=len(screens) in (1, 2))
        answer(page, by_keyboard=len(screens) <= 3)
        page.wait_for_url(lambda url: not url.rstrip("/").endswith(f"/{screens[-1]}"))
    assert {"safety", "H01", "H09", "H18"} <= set(screens)
    assert len(screens) == len(set(screens))
    tablet.keep("b3-her-card", everywhere=True)
    page.fill("#id_name", "Ruvena Tarnelow")
    # Reminders are sent to nobody who has not agreed to messages.
    page.locator('label.pick:has([name="messages"][value="yes"])').tap()
    page.get_by_role("button", name="Sign and send").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Thank you")
    expect(page.locator("main")).to_contain_text("Nothing in your answers asks for anything before your lesson")
    assert "bone" not in page.locator("main").inner_text().lower()
    tablet.keep("b4-kind-words", everywhere=True)
    tablet.close()
    story.stage.devices.remove(tablet)
    screening = client_models.Screening.objects.get(client=story.ruvena)
    assert screening.outcome == "clear" and any(one.level == "avoid" for one in make_clients.limits(screening))


def screen_of(page: Page) -> str:
    return page.url.rstrip("/").rpartition("/")[2]


def comes_back(tablet: Device, link: str, screen: str) -> Page:
    """She reloads, then closes the page and opens the letter's link again: it goes on where she was."""
    tablet.page.reload()
    assert screen_of(tablet.page) == screen
    page = tablet.go(link)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Welcome back")
    page.get_by_role("link", name="Go on").tap()
    page.wait_for_url(f"**/ask/{screen}/")
    return page


def answer(page: Page, *, by_keyboard: bool) -> None:
    """Everything that this screen asks: what is told, else the quietest answer; then go on."""
    for name in page.evaluate("[...new Set([...document.forms].at(-1).elements)].map(e => e.name).filter(Boolean)"):
        controls = page.locator(f'form.screen [name="{name}"]')
        kind = controls.first.get_attribute("type") or "words"
        if kind in ("radio", "checkbox"):
            choose(page, name, by_keyboard=by_keyboard)
        elif kind in ("text", "date") and not controls.first.input_value():
            controls.first.fill(text_for(page, name, kind))
    if by_keyboard:
        page.locator("form.screen button").first.focus()
        page.keyboard.press("Enter")
    else:
        page.get_by_role("button", name="Go on", exact=True).tap()


def text_for(page: Page, name: str, kind: str) -> str:
    if kind == "date":
        return "2020-05-31"
    is_number = page.locator(f'[name="{name}"]').first.get_attribute("inputmode") == "numeric"
    return "0" if is_number else ""


def choose(page: Page, name: str, *, by_keyboard: bool) -> None:
    radios = page.locator(f'[name="{name}"]')
    values = [one.get_attribute("value") for one in radios.all()]
    wanted = TOLD.get(name) or next((word for word in QUIET if word in values), values[0])
    if radios.locator(":scope:checked").count():
        return
    if by_keyboard:
        # Arrow keys go through a group of radios as on any form; the first is reached by Tab.
        radios.first.focus()
        page.keyboard.press("Space")
        for _ in range(values.index(wanted)):
            page.keyboard.press("ArrowDown")
        expect(page.locator(f'[name="{name}"][value="{wanted}"]')).to_be_checked()
    else:
        page.locator("label.answer").filter(has=page.locator(f'[name="{name}"][value="{wanted}"]')).tap()


# --- d ----------------------------------------------------------------------------------------------------------------
def test_the_desk_finds_an_opening_and_books_reformer_3_and_a_second_desk_reads_who_has_it(story):
    give_friend_a_form(story)
    page = look(story.desk, "Ruvena Tarnelow", born="1966")
    story.desk.keep("d1-openings", everywhere=True)
    other = look(story.other_desk, "Odalys Venn")
    book_at_ten(page)
    expect(page.locator("#messages")).to_contain_text("is booked on Thursday 12 March at 10:00, Reformer 3")
    story.desk.keep("d2-day-sheet-with-slip", everywhere=True)
    book_at_ten(other)
    alert = other.get_by_role("alert")
    expect(alert).to_contain_text("Not booked")
    expect(alert).to_contain_text("already taken")
    expect(alert).to_contain_text("Ruvena Tarnelow")
    assert other.locator(".nearest .opening").count() >= 1
    story.other_desk.keep("d3-already-taken", everywhere=True)
    other.locator(".nearest .opening").first.get_by_role("button").click()
    expect(other.locator("#messages")).to_contain_text("Odalys Venn is booked")
    story.other_desk.keep("d4-the-nearest-instead")
    holding = scheduling_models.Place.objects.filter(
        apparatus=story.cast.reformers[2], during__contains=at(THURSDAY, 10)
    )
    assert [place.client for place in holding] == [story.ruvena]


def give_friend_a_form(story: Story) -> None:
    assert client_models.Screening.objects.filter(client=story.cast.friend, outcome="clear").exists()


def look(device: Device, name: str, *, born: str = "") -> Page:
    """Type a name, choose the person, say what is wanted, and look."""
    page = device.go("/desk/openings/")
    page.get_by_label("Client, by name, phone or e-mail").press_sequentially(name[:9], delay=20)
    found = page.locator("#who-found a.btn").filter(has_text=name)
    (found.filter(has_text=born) if born else found).first.click()
    expect(page.get_by_label("Client, by name, phone or e-mail")).to_have_value(name)
    page.get_by_label("Apparatus").select_option(label="Reformer 3")
    page.get_by_label("Teacher").select_option(label="Henrike Aldous")
    page.get_by_label("First day").fill(THURSDAY.isoformat())
    page.get_by_label("How far ahead").select_option("0")
    page.get_by_label("Earliest").fill("10:00")
    page.get_by_label("Latest").fill("14:00")
    page.get_by_role("button", name="Look").click()
    expect(page.locator(".opening").first).to_be_visible()
    return page


def book_at_ten(page: Page) -> None:
    page.locator(".opening").filter(has_text="10:00 to 10:55").get_by_role("button").click()


# --- c ----------------------------------------------------------------------------------------------------------------
def test_the_teacher_reads_the_brief_and_fits_a_template_whose_changes_say_why(story):
    page = story.floor.go(f"/floor/?day={THURSDAY}")
    story.floor.keep("c1-the-day", everywhere=True)
    page.get_by_role("link", name="Brief for Ruvena Tarnelow").tap()
    limits = page.locator(".limits-col .limit")
    expect(limits.first).to_be_visible()
    assert limits.count() >= 3
    limits.first.locator("summary").tap()
    expect(limits.first.locator(".chain").first).to_contain_text("Source")
    story.floor.keep("c2-brief", everywhere=True)
    choice = page.locator(".choices li").filter(has_text="Foundation order")
    choice.get_by_role("button", name="Fit it").tap()
    expect(page.locator(".sums")).to_contain_text("lines")
    changed = page.locator("details.line.adapted, details.line.swapped")
    assert changed.count() >= 1
    changed.first.locator("summary").tap()
    steps = changed.first.locator("dl.chain dt").all_inner_texts()
    assert [step.lower() for step in steps[:4]] == ["condition", "demand", "rule", "source"]
    chain = changed.first.locator("dl.chain").first
    expect(chain.locator("dd").first).to_contain_text("Osteoporosis")
    expect(chain.locator("dd").last).to_contain_text("Strength")
    story.floor.keep("c3-program-with-why", everywhere=True)


# --- e ----------------------------------------------------------------------------------------------------------------
def test_the_reminder_made_with_the_booking_leaves_once_however_often_the_worker_looks(story):
    row = studio_models.Notice.objects.get(kind="lesson_reminder", about=f"place:{story.place.pk}")
    assert (row.state, row.due_at) == (State.WAITING, at(THURSDAY, 10) - timedelta(hours=24))
    reminders = lambda: [one for one in story.stage.post.to(RUVENA) if "Your lesson" in str(one["Subject"])]  # noqa: E731
    tick_and_wait(story)
    assert reminders() == []
    story.stage.at(row.due_at + timedelta(minutes=1))
    for _ in range(3):
        tick_and_wait(story)
    assert len(reminders()) == 1
    words = words_of(reminders()[0])
    assert "Henrike Aldous" in words and "Thursday 12 March at 10:00" in words and "bone" not in words
    row.refresh_from_db()
    assert row.state == State.SENT


def tick_and_wait(story: Story, task: str = "studio.tasks.send_due_notices") -> None:
    """Send a task as the beat does and wait until the worker has done it."""
    story.stage.tick(task)
    wait_until(broker_is_empty, seconds=20, what=f"the worker does {task}")


def broker_is_empty() -> bool:
    with redis.Redis.from_url(settings.REDIS_URL) as server:
        return not server.llen(f"{PREFIX}celery") and not server.hlen(f"{PREFIX}unacked")


# --- f ----------------------------------------------------------------------------------------------------------------
def test_on_the_day_the_run_sheet_takes_one_tap_a_line_an_undo_and_a_note_and_is_finished(story):
    story.stage.at(at(THURSDAY, 9, 55))
    # The sessions of Monday have ended: everybody signs in for the day.
    expect(story.desk.go("/desk/").locator("h1")).to_have_text("Sign in")
    story.desk.log_in(cast.DESK)
    story.floor.log_in(cast.TEACHER)
    page = story.desk.go(f"/desk/?place={story.place.pk}")
    page.get_by_role("button", name="Here", exact=True).click()
    expect(page.locator("#messages")).to_contain_text("Ruvena Tarnelow")
    story.desk.keep("f0-she-is-here")
    page = story.floor.go("/floor/")
    page.get_by_role("link", name="Run sheet for Ruvena Tarnelow").tap()
    page.wait_for_url("**/run/")
    story.floor.keep("f1-run-sheet", everywhere=True)
    lines = programming_models.ProgramLine.objects.filter(program__place=story.place).exclude(decision="left_out")
    tap_a_mark(page, "Done")
    tap_a_mark(page, "Fewer")
    tap_a_mark(page, "Changed")
    tap_a_mark(page, "Skipped")
    before = page.locator("h1").inner_text()
    tap_a_mark(page, "Skipped")
    story.floor.keep("f2-undo-is-offered")
    page.locator(".undo-slot").get_by_role("button", name=re.compile("Undo")).tap()
    expect(page.locator("h1")).to_have_text(before)
    page.wait_for_timeout(450)
    for _ in range(lines.count() - 4):
        tap_a_mark(page, "Done")
    expect(page.locator("h1")).to_have_text("All lines are marked")
    story.floor.keep("f3-all-marked", everywhere=True)
    page.get_by_role("link", name="Add a note").tap()
    page.get_by_label("What you saw").fill("Liked the slow tempo. \U0001f33f")
    story.floor.keep("f4-note")
    page.get_by_role("button", name="Keep the note").tap()
    page.get_by_role("button", name="Finish the lesson").tap()
    expect(page.locator("h1")).to_contain_text("finished")
    expect(page.locator("main")).to_contain_text("Next reassessment")
    story.floor.keep("f5-log", everywhere=True)


def tap_a_mark(page: Page, word: str) -> None:
    """One tap, and the sheet has turned; a hand is not quicker than the 400 ms within which two taps are one."""
    at_line = page.locator(".line-view").get_attribute("aria-label")
    page.locator(".marks").get_by_role("button", name=word, exact=True).tap()
    expect(page.locator(".line-view")).not_to_have_attribute("aria-label", at_line or "")
    page.wait_for_timeout(420)


def test_the_log_is_stored_her_standing_is_updated_and_the_next_reassessment_is_dated(story):
    log = programming_models.Log.objects.get(place=story.place)
    marks = [line.mark for line in programming_models.LogLine.objects.filter(log=log)]
    assert log.finished_at is not None
    assert [marks.count(word) for word in ("fewer", "changed", "skipped")] == [1, 1, 1]
    assert marks.count("done") == len(marks) - 3
    assert programming_models.Ownership.objects.filter(client=story.ruvena).exists()
    assert (story.ruvena.visits, story.ruvena.last_visit) == (1, THURSDAY)
    due = client_models.Review.objects.filter(client=story.ruvena, done_at=None)
    assert due.exists() and all(review.due_on > THURSDAY and review.raised_at is None for review in due)


# --- g ----------------------------------------------------------------------------------------------------------------
def test_the_owner_sees_machine_use_and_teaching_load_of_exactly_these_lessons(story):
    story.stage.at(at(THURSDAY, 18))
    owner = story.stage.device("owner")
    owner.log_in(cast.OWNER)
    page = owner.go("/office/use/")
    # Six days of fourteen hours; one lesson of 55 minutes is 0.9 of 84 hours, one percent.
    cell = page.locator("table.heat tr").filter(has_text="Reformer 3").locator("td[title]").last
    used = hours_on(story.cast.reformers[2])
    assert cell.get_attribute("title") == f"{used:.1f} of 84.0 hours"
    assert cell.inner_text() == str(round(100 * used / 84))
    for teacher in story.cast.teachers:
        row = page.locator("table.rows tr").filter(has_text=teacher.person.name)
        taught = scheduling_models.Lesson.objects.filter(instructor=teacher, live=True)
        hours = sum((one.during.upper - one.during.lower).total_seconds() for one in taught) / 3600
        told = row.locator("td").all_inner_texts()
        assert told[:2] == [f"{hours:.1f}", str(taught.count())]
    owner.keep("g1-use-and-load", everywhere=True)
    owner.go("/office/")
    expect(owner.page.locator("table.heat")).to_be_visible()
    owner.keep("g2-office", everywhere=True)


def hours_on(machine: scheduling_models.Apparatus) -> float:
    places = scheduling_models.Place.objects.filter(apparatus=machine, live=True)
    return sum((one.during.upper - one.during.lower).total_seconds() for one in places) / 3600


# --- f, weeks later ---------------------------------------------------------------------------------------------------
def test_weeks_later_the_worker_raises_the_reassessment_once_and_tells_the_teacher(story):
    review = client_models.Review.objects.filter(client=story.ruvena, done_at=None).order_by("due_on").first()
    story.stage.at(at(review.due_on, 6))
    for _ in range(2):
        tick_and_wait(story, "clients.tasks.raise_due_reviews")
    letter = story.stage.letter(cast.TEACHER)
    assert "Ruvena Tarnelow is due to be measured again" in str(letter["Subject"])
    assert len(story.stage.post.to(cast.TEACHER)) == 1
    review.refresh_from_db()
    assert review.raised_at is not None and review.raised_at <= timezone.now()
    story.floor.log_in(cast.TEACHER)
    expect(story.floor.page.locator("main")).to_be_visible()
    story.floor.keep("f6-weeks-later", everywhere=True)
