"""Springs one by one: measured, taken back, replaced, looked at, worn; what is refused and what stays known."""

from datetime import date, timedelta
from uuid import uuid4

import pytest

from scheduling import actions, models
from scheduling.actions import calibrations
from scheduling.actions import springs as spring_actions
from scheduling.queries import springs as spring_queries
from scheduling.rules.springs import USUAL
from scheduling.rules.wear import Advice, Finding, Strokes
from studio.models import AuditEntry
from studio.rules import ApparatusKind, Refused
from tests import make_scheduling as at_work
from tests.make_scheduling import NOW

pytestmark = pytest.mark.django_db
LINE = [(0.10, 25.0), (0.40, 85.0)]
TODAY = NOW.date()


@pytest.fixture
def house():
    return at_work.house()


@pytest.fixture
def spring(house):
    return house.reformers[0].springs.get(stiffness_class="light")


def calibrate(spring, points=LINE, *, measured_on=TODAY, instrument="luggage scale", now=NOW):
    given = {"points": points, "instrument": instrument, "measured_on": measured_on}
    return calibrations.calibrate_spring(spring.pk, **given, by=None, now=now)


def numbers(spring):
    spring.refresh_from_db()
    return spring.k_n_per_m, spring.x0_m, spring.calibrated_on


def row(spring, *, now=NOW):
    return spring_queries.spring_page(spring.pk, now=now).row


def codes(refused):
    return {reason.code for reason in refused.value.reasons}


# --- measuring -------------------------------------------------------------------------------------------------------


def test_a_measured_spring_pulls_by_its_own_line(spring):
    # worked example of the reference: (0.10 m, 25 N) and (0.40 m, 85 N) give 200 N/m and 0.025 m
    calibrate(spring)
    k, x0, day = numbers(spring)
    assert (k, x0, day) == (pytest.approx(200), pytest.approx(0.025), TODAY)
    assert row(spring).fact.calibrated
    assert AuditEntry.objects.filter(verb="calibrate").count() == 1


def test_the_newest_measurement_counts_whatever_the_order_of_typing(spring):
    later = NOW + timedelta(days=10)
    calibrate(spring, [(0.1, 12), (0.4, 45)], measured_on=later.date(), now=later)
    calibrate(spring, LINE, measured_on=TODAY, now=later)
    assert numbers(spring)[0] == pytest.approx(110)
    page = spring_queries.spring_page(spring.pk, now=later)
    assert [one.counts for one in page.calibrations] == [True, False]


def test_a_measurement_taken_back_leaves_the_one_before_and_then_the_default(spring):
    first = calibrate(spring)
    second = calibrate(spring, [(0.1, 12), (0.4, 45)])
    calibrations.take_back_calibration(second.id, by=None, now=NOW)
    assert numbers(spring)[0] == pytest.approx(200)
    calibrations.take_back_calibration(first.id, by=None, now=NOW)
    assert numbers(spring) == (*USUAL["light"], None)
    calibrations.bring_back_calibration(second.id, by=None, now=NOW)
    assert numbers(spring)[0] == pytest.approx(110)


def test_points_off_the_line_are_kept_and_doubted(spring):
    kept = calibrate(spring, [(0.1, 25), (0.2, 60), (0.3, 55), (0.4, 85)])
    assert {doubt.code for doubt in kept.warnings} == {"poor_fit", "unusual"}
    assert models.Calibration.objects.get(pk=kept.id).r2 < 0.99


@pytest.mark.parametrize(
    ("points", "code"),
    [
        ([(0.1, 25)], "too_few_points"),
        ([(0.1, 25), (0.1, 26)], "too_few_points"),
        ([(0.1, 85), (0.4, 25)], "stiffness_not_positive"),
        ([(0.1, 25), (float("nan"), 60)], "extension"),
        ([(0.1, 25), (2.5, 60)], "extension"),
        ([(0.1, 25), (0.4, float("inf"))], "force"),
        ([(0.1, 25), (0.4, 5000)], "force"),
        ([(0.01 * n, 10.0 * n) for n in range(1, 14)], "too_many_points"),
    ],
)
def test_points_that_are_no_springs_line_are_refused(spring, points, code):
    with pytest.raises(Refused) as refused:
        calibrate(spring, points)
    assert codes(refused) == {code}
    assert numbers(spring) == (*USUAL["light"], None)


@pytest.mark.parametrize("day", [TODAY + timedelta(days=1), TODAY - timedelta(days=1)])
def test_a_spring_is_measured_between_the_day_it_was_hung_and_today(spring, day):
    with pytest.raises(Refused) as refused:
        calibrate(spring, measured_on=day)
    assert codes(refused) == {"day"}


def test_the_instrument_is_named(spring):
    with pytest.raises(Refused) as refused:
        calibrate(spring, instrument="  ")
    assert codes(refused) == {"no_instrument"}


# --- replaced, taken off, put back -----------------------------------------------------------------------------------


def test_replacing_a_spring_starts_a_new_history(spring):
    calibrate(spring)
    spring_actions.count_use(uuid4(), on=TODAY, strokes={spring.pk: Strokes(80, 45.0)})
    later = NOW + timedelta(days=40)
    new = spring_actions.replace_spring(spring.pk, serial="L-07", by=None, now=later)
    assert (new.position, new.stiffness_class, new.calibrated_on) == (spring.position, "light", None)
    assert (new.k_n_per_m, new.x0_m) == USUAL["light"]
    page = spring_queries.spring_page(new.pk, now=later)
    assert (page.row.cycles, page.calibrations, page.row.months) == (0, (), 0)
    (old,) = page.others
    assert (old.id, old.removed_on, old.cycles) == (spring.pk, later.date(), 80)
    with pytest.raises(Refused) as refused:
        calibrate(spring, now=later)
    assert codes(refused) == {"spring_off"}


def test_a_replacement_is_undone_on_the_same_day_while_nothing_is_known_of_the_new_one(spring):
    new = spring_actions.replace_spring(spring.pk, serial="", by=None, now=NOW)
    spring_actions.put_back_spring(spring.pk, by=None, now=NOW)
    assert not models.Spring.objects.filter(pk=new.pk).exists()
    spring.refresh_from_db()
    assert spring.removed_on is None


def test_a_replacement_that_was_measured_is_not_thrown_away(spring):
    new = spring_actions.replace_spring(spring.pk, serial="", by=None, now=NOW)
    calibrate(new)
    with pytest.raises(Refused) as refused:
        spring_actions.put_back_spring(spring.pk, by=None, now=NOW)
    assert codes(refused) == {"place_taken"}
    assert models.Spring.objects.filter(pk=new.pk, removed_on=None).exists()


def test_a_spring_taken_off_is_put_back_today_and_not_later(house, spring):
    spring_actions.take_off_spring(spring.pk, by=None, now=NOW)
    assert spring.pk not in spring_queries.springs_at(house.reformers[0].pk)
    with pytest.raises(Refused) as refused:
        spring_actions.put_back_spring(spring.pk, by=None, now=NOW + timedelta(days=1))
    assert codes(refused) == {"too_late_to_undo"}
    spring_actions.put_back_spring(spring.pk, by=None, now=NOW)
    assert spring.pk in spring_queries.springs_at(house.reformers[0].pk)


def test_what_hung_on_a_past_day_is_still_known(house, spring):
    later = NOW + timedelta(days=40)
    new = spring_actions.replace_spring(spring.pk, serial="", by=None, now=later)
    machine = house.reformers[0].pk
    assert spring.pk in spring_queries.springs_at(machine, on=TODAY) and new.pk not in spring_queries.springs_at(
        machine, on=TODAY
    )
    assert new.pk in spring_queries.springs_at(machine, on=later.date())
    assert spring.pk not in spring_queries.springs_at(machine, on=later.date())


def test_a_new_spring_hangs_in_the_first_free_place(house, spring):
    spring_actions.take_off_spring(spring.pk, by=None, now=NOW)
    hung = spring_actions.hang_spring(
        house.reformers[0].pk, stiffness_class="heavy", serial="H-1", by=None, now=NOW + timedelta(days=1)
    )
    assert (hung.position, hung.stiffness_class) == (spring.position, "heavy")


def test_a_machine_carries_twelve_springs_at_most(house):
    actions.change_springs(house.reformers[0].pk, springs="M" * 12, by=None, now=NOW)
    with pytest.raises(Refused) as refused:
        spring_actions.hang_spring(house.reformers[0].pk, stiffness_class="light", serial="", by=None, now=NOW)
    assert codes(refused) == {"too_many"}


# --- looked at, worn -------------------------------------------------------------------------------------------------


def test_a_finding_takes_a_spring_out_until_somebody_looks_again(spring):
    look = spring_actions.inspect_spring(spring.pk, findings=[Finding.RUST], by=None, now=NOW)
    assert row(spring).judged.advice is Advice.TAKE_OUT
    spring_actions.take_back_inspection(look.pk, by=None, now=NOW)
    assert row(spring).judged.advice is Advice.KEEP
    assert row(spring).looked is None


def test_one_look_at_a_whole_machine_leaves_a_finding_standing(house, spring):
    spring_actions.inspect_spring(spring.pk, findings=[Finding.KINKS], by=None, now=NOW)
    count = spring_actions.inspect_machine(house.reformers[0].pk, by=None, now=NOW)
    assert count == house.reformers[0].springs.count() - 1
    assert row(spring).judged.advice is Advice.TAKE_OUT


def test_a_log_handed_over_twice_is_counted_once_and_taken_back_whole(spring):
    log_id = uuid4()
    for _ in range(2):
        spring_actions.count_use(log_id, on=TODAY, strokes={spring.pk: Strokes(80, 45.0)})
    assert row(spring).cycles == 80
    spring_actions.take_back_use(log_id)
    assert row(spring).cycles == 0


def test_what_a_spring_pulled_uses_it_up_against_its_measured_length(spring):
    spring_actions.keep_spring(spring.pk, serial="L-3", free_length_m=0.5, by=None, now=NOW)
    rated = USUAL["light"][0] * (0.5 + USUAL["light"][1])
    spring_actions.count_use(uuid4(), on=TODAY, strokes={spring.pk: Strokes(500_000, rated)})
    assert row(spring).used == pytest.approx(0.5)
    assert row(spring).judged.advice is Advice.INSPECT


def test_a_length_that_is_none_is_refused(spring):
    with pytest.raises(Refused) as refused:
        spring_actions.keep_spring(spring.pk, serial="", free_length_m=40.0, by=None, now=NOW)
    assert codes(refused) == {"free_length"}


def test_machines_with_the_same_springs_within_four_percent_are_named(house):
    one, two, three = (machine.pk for machine in house.reformers)
    models.Spring.objects.filter(apparatus=two).update(k_n_per_m=1.03 * 200, stiffness_class="medium")
    models.Spring.objects.filter(apparatus=one).update(k_n_per_m=200, stiffness_class="medium")
    assert spring_queries.springs_of_machine(one, now=NOW).like == ("Reformer 2",)
    assert spring_queries.springs_of_machine(three, now=NOW).like == ()


def test_a_machine_is_measured_and_nonsense_is_refused(house):
    machine = house.reformers[0].pk
    given = {"bar_to_rest_m": 0.98, "foot_above_hip_m": 0.12, "track_m": 1.0}
    spring_actions.measure_machine(machine, measures=given, by=None, now=NOW)
    found = spring_queries.measures_of(machine)
    assert (found.bar_to_rest, found.foot_above_hip, found.track, found.pedal_ratio) == (0.98, 0.12, 1.0, None)
    with pytest.raises(Refused) as refused:
        spring_actions.measure_machine(machine, measures={"track_m": float("nan")}, by=None, now=NOW)
    assert refused.value.reasons[0].field == "track_m"


@pytest.mark.parametrize("machines", [1, 6])
def test_all_springs_of_the_house_are_read_with_the_same_number_of_queries(machines, django_assert_max_num_queries):
    at_work.house(reformers=machines)
    with django_assert_max_num_queries(5):
        found = spring_queries.machines_with_springs(now=NOW)
    assert len(found) == machines


def test_a_machine_out_of_the_house_and_one_without_springs_are_not_listed(house):
    at_work.machine(house.studio, house.room, "Mat 1", kind=ApparatusKind.MAT, springs="")
    models.Apparatus.objects.filter(pk=house.reformers[2].pk).update(in_service_to=date(2026, 1, 1))
    labels = [machine.label for machine in spring_queries.machines_with_springs(now=NOW)]
    assert labels == ["Reformer 1", "Reformer 2"]
