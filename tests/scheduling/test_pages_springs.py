"""The pages of springs: what they show, what they refuse beside the field, and the way back from each deed."""

import re
from datetime import UTC, datetime

import pytest
import time_machine
from django.urls import reverse

from scheduling import models
from scheduling.actions import springs as spring_actions
from scheduling.rules.wear import Finding
from studio.rules import ApparatusKind
from tests import make_scheduling as at_work

pytestmark = pytest.mark.django_db
MORNING = datetime(2026, 3, 12, 8, 0, tzinfo=UTC)
TYPED = {"measured_on": "2026-03-12", "instrument": "hung weights", "unit": "newton"}


@pytest.fixture(autouse=True)
def in_the_morning():
    with time_machine.travel(MORNING, tick=False):
        yield


@pytest.fixture
def house():
    return at_work.house()


@pytest.fixture
def spring(house):
    return house.reformers[0].springs.get(stiffness_class="light")


def url(name: str, *args: object) -> str:
    return reverse(f"scheduling:{name}", args=args)


def page(client, address: str, status: int = 200, **more) -> str:
    answer = client.get(address, **more)
    assert answer.status_code == status
    return answer.content.decode()


def measure(client, spring, **typed):
    return client.post(url("calibrate", spring.pk), TYPED | typed, follow=True)


def test_the_list_says_everywhere_what_is_uncalibrated(as_owner, house):
    text = page(as_owner, url("springs"))
    assert "15 springs on 3 machines, 15 uncalibrated" in text
    assert text.count("uncalibrated</span>") == 15


def test_the_list_says_that_the_figure_of_wear_is_not_validated(as_instructor, house):
    text = page(as_instructor, url("springs"))
    assert "not validated" in text and "overrides every figure" in text


def test_a_house_without_springs_is_told_where_they_come_from(as_owner):
    assert "No spring hangs anywhere yet" in page(as_owner, url("springs"))


def test_measuring_in_centimetres_and_kilograms_is_kept_in_metres_and_newtons(as_instructor, spring):
    # 2 kg and 6 kg at standard gravity (ISO 80000-4) over 0.30 m: 4 * 9.80665 / 0.30 N/m
    answer = measure(as_instructor, spring, unit="kilogram", x1="10", f1="2", x2="40", f2="6")
    assert "Kept: 131 N/m" in answer.content.decode()
    (row,) = models.Calibration.objects.all()
    assert row.k_n_per_m == pytest.approx(4 * 9.80665 / 0.30)
    assert row.points == [[0.1, pytest.approx(2 * 9.80665)], [0.4, pytest.approx(6 * 9.80665)]]
    assert row.made_by.name == "Henrike Aldous"


def test_a_poor_fit_is_kept_and_said(as_owner, spring):
    answer = measure(as_owner, spring, x1="10", f1="15", x2="20", f2="40", x3="30", f3="35", x4="40", f4="55")
    text = answer.content.decode()
    assert "The points do not lie on a line" in text and "not on a line" in text


def test_two_points_say_nothing_of_their_fit(as_owner, spring):
    assert "two points only" in measure(as_owner, spring, x1="10", f1="15", x2="40", f2="45").content.decode()


def test_half_a_row_is_refused_beside_its_field_and_nothing_typed_is_lost(as_owner, spring):
    answer = measure(as_owner, spring, x1="10", f1="15", x2="41.5")
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "An extension and its reading belong together." in text
    assert 'name="x2" value="41.5"' in text
    assert not models.Calibration.objects.exists()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({}, "A calibration needs the force at two extensions at least."),
        ({"x1": "10", "f1": "50", "x2": "40", "f2": "20"}, "The force does not grow"),
        ({"x1": "10", "f1": "15", "x2": "400", "f2": "45"}, "An extension is between 0 and 2 metres."),
        (
            {"x1": "10", "f1": "15", "x2": "40", "f2": "45", "measured_on": "2026-04-01"},
            "did not hang here on that day",
        ),
    ],
)
def test_a_refused_measurement_says_why(as_owner, spring, typed, says):
    answer = measure(as_owner, spring, **typed)
    assert answer.status_code == 422
    assert says in answer.content.decode()


def test_a_measurement_is_taken_back_and_counts_again(as_owner, spring):
    measure(as_owner, spring, x1="10", f1="15", x2="40", f2="45")
    (row,) = models.Calibration.objects.all()
    text = as_owner.post(url("take-back-calibration", row.pk), follow=True).content.decode()
    assert "does not count any more" in text and "default of its class" in text
    assert url("bring-back-calibration", row.pk) in text
    assert "counts again" in as_owner.post(url("bring-back-calibration", row.pk), follow=True).content.decode()


def test_the_points_stand_in_a_picture_and_in_a_table(as_owner, spring):
    text = measure(as_owner, spring, x1="10", f1="15", x2="40", f2="45").content.decode()
    assert text.count('class="seen-at"') == 2
    assert re.search(r'40\.0 cm</td><td class="n">45\.0 N</td><td class="n">45\.0 N', text)


def test_a_finding_is_told_at_the_head_of_the_list(as_instructor, spring):
    answer = as_instructor.post(url("look-at-spring", spring.pk), {"findings": ["rust", "noise"]}, follow=True)
    assert "Take it off before anybody hooks it." in answer.content.decode()
    text = page(as_instructor, url("springs"))
    assert "To be seen to" in text and "take it out now" in text
    look = models.Inspection.objects.get()
    assert set(look.findings) == {Finding.RUST, Finding.NOISE}


def test_the_office_says_which_springs_wait_to_be_seen_to(as_owner, spring):
    assert "Nothing waits to be seen to" in page(as_owner, url("springs-panel"))
    spring_actions.inspect_spring(spring.pk, findings=[Finding.HOOKS], by=None, now=MORNING)
    text = page(as_owner, url("springs-panel"))
    assert url("spring", spring.pk) in text and "a worn or opening hook" in text
    assert url("springs-panel") in page(as_owner, reverse("studio:office"))


def test_a_finding_that_is_none_is_refused(as_instructor, spring):
    answer = as_instructor.post(url("look-at-spring", spring.pk), {"findings": ["gremlins"]})
    assert answer.status_code == 422
    assert not models.Inspection.objects.exists()


def test_a_whole_machine_is_looked_at_in_one_tap(as_instructor, house):
    answer = as_instructor.post(url("look-at-machine", house.reformers[0].pk), follow=True)
    assert "5 springs looked at, nothing found." in answer.content.decode()


def test_a_look_is_taken_back(as_instructor, spring):
    look = spring_actions.inspect_spring(spring.pk, findings=[Finding.RUST], by=None, now=MORNING)
    as_instructor.post(url("take-back-look", look.pk))
    assert "To be seen to" not in page(as_instructor, url("springs"))


def test_replacing_offers_the_way_back(as_owner, spring):
    text = as_owner.post(url("replace-spring", spring.pk), {"serial": "L-09"}, follow=True).content.decode()
    assert "its history begins today" in text and url("put-back-spring", spring.pk) in text
    as_owner.post(url("put-back-spring", spring.pk))
    spring.refresh_from_db()
    assert spring.removed_on is None


def test_a_spring_that_is_off_shows_its_history_and_no_form_to_measure_it(as_owner, spring):
    as_owner.post(url("take-off-spring", spring.pk))
    text = page(as_owner, url("spring", spring.pk))
    assert "Taken off on 12 March 2026" in text
    assert url("calibrate", spring.pk) not in text
    refused = measure(as_owner, spring, x1="1", f1="1", x2="2", f2="3")
    assert refused.status_code == 422 and "This spring was taken off on 12 March 2026" in refused.content.decode()


def test_teachers_see_and_measure_springs_and_the_owner_alone_replaces_them(as_instructor, spring):
    text = page(as_instructor, url("spring", spring.pk))
    assert url("calibrate", spring.pk) in text and url("replace-spring", spring.pk) not in text
    assert as_instructor.post(url("replace-spring", spring.pk)).status_code == 403
    assert url("hang-spring", spring.apparatus_id) not in page(
        as_instructor, url("machine-springs", spring.apparatus_id)
    )


def test_hanging_one_more_spring(as_owner, house):
    machine = house.reformers[0]
    as_owner.post(url("hang-spring", machine.pk), {"stiffness_class": "heavy", "serial": "H-3"})
    assert machine.springs.filter(stiffness_class="heavy", removed_on=None).count() == 3
    refused = as_owner.post(url("hang-spring", machine.pk), {"stiffness_class": "leaden"})
    assert refused.status_code == 422


def test_lengths_are_typed_in_centimetres_and_kept_in_metres(as_owner, house):
    machine = house.reformers[0]
    typed = {"bar_to_rest_m": "98.5", "foot_above_hip_m": "12", "track_m": ""}
    text = as_owner.post(url("measure-machine", machine.pk), typed, follow=True).content.decode()
    machine.refresh_from_db()
    assert (machine.bar_to_rest_m, machine.foot_above_hip_m, machine.track_m) == (0.985, 0.12, None)
    assert 'value="98.5"' in text
    refused = as_owner.post(url("measure-machine", machine.pk), {"bar_to_rest_m": "9000"})
    assert refused.status_code == 422 and "That is no length of a machine." in refused.content.decode()


def test_a_chair_is_asked_for_the_arms_of_its_pedal(as_owner, house):
    chair = at_work.machine(house.studio, house.room, "Chair 1", kind=ApparatusKind.CHAIR, springs="MM")
    text = page(as_owner, url("machine-springs", chair.pk))
    assert "pedal_ratio" in text and "track_m" not in text
    as_owner.post(url("measure-machine", chair.pk), {"pedal_ratio": "0.5"})
    chair.refresh_from_db()
    assert chair.pedal_ratio == 0.5


def test_what_is_written_on_a_spring_is_kept(as_instructor, spring):
    as_instructor.post(url("spring", spring.pk), {"serial": "L-12", "free_length": "48"})
    spring.refresh_from_db()
    assert (spring.serial, spring.free_length_m) == ("L-12", 0.48)
