"""What springs ask of a client and what they asked last time; what a finished log tells each spring, once."""

from datetime import timedelta

import pytest

from programming import actions, models
from programming.actions import bodies
from programming.actions import springs as spring_actions
from programming.queries.work import Wanted
from programming.rules.bodies import BodyFacts
from programming.rules.marks import Mark
from programming.rules.work import Change, StrokeOf
from scheduling.actions import calibrations
from scheduling.actions import springs as machine_springs
from scheduling.models import Apparatus, SpringUse
from scheduling.queries import springs as spring_queries
from studio.models import AuditEntry
from studio.rules import Refused
from tests import make_programming as practice
from tests.make_programming import DAY, LESSON, NOW

pytestmark = pytest.mark.django_db
MEASURED = BodyFacts(stature_mm=1650, leg_mm=1058, sex="female")
ESTIMATED = BodyFacts(stature_mm=1650, sex="female")


@pytest.fixture
def program(lesson):
    return lesson.assign()


def note(lesson, facts, now=NOW):
    return bodies.note_body(lesson.client.pk, facts=facts, by=lesson.teacher, now=now)


def sheet(lesson, program, **more):
    return spring_actions.read_work(program.pk, by=lesson.teacher, now=LESSON, **more)


def line_of(found, key, program):
    stored = program.lines.get(exercise_id=key)
    return next(line for line in found.lines if line.id == stored.pk)


def unlimited(lesson):
    """Somebody whom nothing limits, with the foundation order as it is written."""
    found = practice.lesson(lesson.house, practice.client("Mirthe Aldane"), hour=12)
    return found, found.assign()


def uses():
    return {row.spring_id: row for row in SpringUse.objects.all()}


# --- work for this client --------------------------------------------------------------------------------------------


def test_footwork_is_reckoned_with_the_measured_leg(lesson, program):
    note(lesson, MEASURED)
    found = sheet(lesson, program)
    line = line_of(found, "R-FW1", program)
    # By hand: an average leg of a woman of 1.65 m, so thigh 0.40425, shank 0.4059, trunk 0.4752; bar 0.95, up 0.10.
    metres = ((0.40425 + 0.4059) ** 2 - 0.01) ** 0.5 - (0.95 - 0.4752)
    assert line.work.stroke.metres == pytest.approx(metres, abs=0.001)
    assert line.work.stroke.of is StrokeOf.LEGS and line.span == ""
    springs = spring_queries.springs_at(lesson.place.apparatus_id)
    k, p = 350 * 2 + 200, (350 * 2 + 200) * 0.05
    assert (len(springs), line.letters) == (5, "HHM")
    assert line.work.a_repetition == pytest.approx(0.5 * k * metres**2 + p * metres, rel=0.01)
    assert line.work.a_set == pytest.approx(line.work.a_repetition * line.work.strokes)
    assert found.rests_on == "from the measured leg" and found.leg == "106 cm"


def test_an_estimated_leg_says_its_error_and_gives_a_span(lesson, program):
    note(lesson, ESTIMATED)
    found = sheet(lesson, program)
    assert (found.error, found.rests_on) == ("6 cm", "estimated from height and sex")
    line = line_of(found, "R-FW1", program)
    least, most = line.work.span
    assert least < line.work.a_repetition < most and line.is_estimate


def test_without_a_body_the_usual_stroke_stands_in_and_says_so(lesson, program):
    found = sheet(lesson, program)
    assert found.legs is None and found.start is None
    assert line_of(found, "R-FW1", program).stroke == "40 cm, the usual stroke of the table"


def test_a_stroke_that_was_seen_beats_every_reckoning(lesson, program):
    note(lesson, MEASURED)
    line = program.lines.get(exercise_id="R-FW1")
    found = sheet(lesson, program, wanted=Wanted(line.pk, seen=0.30))
    (only,) = found.lines
    assert (only.work.stroke.metres, only.stroke) == (0.30, "30 cm, as you saw it")


def test_short_box_springs_hold_still_and_do_no_work(lesson):
    other, program = unlimited(lesson)
    line = line_of(sheet(other, program), "R-SB2", program)
    assert (line.at_end, line.a_repetition, line.stroke) == ("", "", "none, the springs hold still")
    assert line.at_rest == "45.0 N"


def test_a_machine_too_short_for_her_is_said_on_the_line_and_not_made_up(lesson, program):
    note(lesson, MEASURED)
    Apparatus.objects.filter(pk=lesson.place.apparatus_id).update(bar_to_rest_m=0.40)
    found = sheet(lesson, program)
    line = line_of(found, "R-FW1", program)
    assert line.work is None and "does not fit" in line.problem
    assert found.start_problem == line.problem


def test_the_stop_for_a_wanted_bend_is_told_in_centimetres(lesson, program):
    note(lesson, MEASURED)
    now = sheet(lesson, program).start
    deeper = sheet(lesson, program, wanted=Wanted(bend=now.bend + 15)).start
    assert "nearer to the bar" in deeper.stop
    assert "further from the bar" in sheet(lesson, program, wanted=Wanted(bend=now.bend - 15)).start.stop


def test_measured_springs_are_no_longer_called_uncalibrated(lesson, program):
    assert not sheet(lesson, program).is_calibrated
    for spring in Apparatus.objects.get(pk=lesson.place.apparatus_id).springs.all():
        points = [(0.1, spring.k_n_per_m * 0.15), (0.4, spring.k_n_per_m * 0.45)]
        given = {"points": points, "instrument": "scale", "measured_on": NOW.date()}
        calibrations.calibrate_spring(spring.pk, **given, by=None, now=NOW)
    assert sheet(lesson, program).is_calibrated


def test_springs_that_hang_there_no_more_are_said_on_their_lines(lesson, program):
    for spring in Apparatus.objects.get(pk=lesson.place.apparatus_id).springs.filter(stiffness_class="heavy"):
        machine_springs.take_off_spring(spring.pk, by=None, now=NOW)
    assert "fit the program again" in line_of(sheet(lesson, program), "R-FW1", program).problem


def test_reading_a_body_for_its_work_is_kept_on_record(lesson, program):
    note(lesson, MEASURED)
    sheet(lesson, program)
    read = AuditEntry.objects.filter(kind="read", client_key=lesson.client.pk)
    assert {"read_body", "read_work"} <= set(read.values_list("verb", flat=True))


def test_the_desk_and_a_stranger_read_no_ones_work(lesson, program, desk, instructor):
    for person, code in ((desk, "not_open"), (instructor, "say_why")):
        with pytest.raises(Refused) as refused:
            spring_actions.read_work(program.pk, by=person, now=LESSON)
        assert refused.value.reasons[0].code == code


def test_a_line_without_springs_has_no_sheet(lesson, program):
    line = program.lines.get(exercise_id="R-FW1")
    program.lines.filter(pk=line.pk).update(spring_set="")
    with pytest.raises(Refused) as refused:
        sheet(lesson, program, wanted=Wanted(line.pk))
    assert refused.value.reasons[0].code == "no_line"


# --- beside last time ------------------------------------------------------------------------------------------------


def again(lesson, *, machine=0, days=7):
    """The same client's next lesson, with a program."""
    found = practice.lesson(lesson.house, lesson.client, day=DAY + timedelta(days=days), machine=machine)
    return found, found.assign(now=NOW)


def test_the_first_time_there_is_nothing_beside(lesson, program):
    assert line_of(sheet(lesson, program), "R-FW1", program).last is None


def test_the_same_springs_on_another_machine_are_the_same(lesson, program):
    lesson.teach()
    after, fitted = again(lesson, machine=1)
    line = line_of(sheet(after, fitted), "R-FW1", fitted)
    assert (line.last.machine, line.last.on, line.beside.words) == ("Reformer 1", DAY, "the same springs")


def test_other_springs_are_told_in_percent(lesson, program):
    lesson.teach()
    second = Apparatus.objects.get(label="Reformer 2")
    second.springs.filter(stiffness_class="heavy").update(k_n_per_m=350 * 1.2)
    after, fitted = again(lesson, machine=1)
    line = line_of(sheet(after, fitted), "R-FW1", fitted)
    # Two heavy springs of three are a fifth stiffer: 700 * 1.2 + 200 against 900.
    assert (line.beside.change, line.beside.percent) == (Change.MORE, round(100 * 140 / 900))
    assert line.beside.words == "16 % more work outward: harder"


def test_a_replaced_spring_is_compared_with_the_one_that_hung_there_then(lesson, program):
    lesson.teach()
    first = Apparatus.objects.get(pk=lesson.place.apparatus_id)
    later = NOW + timedelta(days=5)
    for spring in first.springs.filter(stiffness_class="heavy"):
        new = machine_springs.replace_spring(spring.pk, serial="", by=None, now=later)
        type(new).objects.filter(pk=new.pk).update(k_n_per_m=280)
    after, fitted = again(lesson)
    assert line_of(sheet(after, fitted), "R-FW1", fitted).beside.change is Change.LESS


# --- what springs pulled ---------------------------------------------------------------------------------------------


def test_a_finished_log_tells_each_spring_its_strokes_once(lesson, program):
    log = lesson.teach()
    told = uses()
    assert told and {row.on for row in told.values()} == {DAY}
    actions.finish_log(log.pk, by=lesson.teacher, now=LESSON + timedelta(minutes=60))
    assert {key: row.cycles for key, row in uses().items()} == {key: row.cycles for key, row in told.items()}


def test_a_spring_is_told_the_rows_it_was_hooked_in_and_no_others(lesson, program):
    feet = program.lines.get(exercise_id="R-FW1")
    side = next(line for line in program.lines.order_by("position") if line.spring_set == "HL")
    lesson.mark(feet.pk)
    lesson.mark(side.pk, Mark.SKIPPED)
    actions.finish_log(models.Log.objects.get().pk, by=lesson.teacher, now=LESSON)
    springs = spring_queries.springs_at(lesson.place.apparatus_id)
    heavy = [key for key, fact in springs.items() if fact.stiffness == "heavy"]
    medium = [key for key, fact in springs.items() if fact.stiffness == "medium"]
    told = uses()
    assert set(told) == {*heavy, medium[0]}
    assert {row.cycles for row in told.values()} == {feet.reps}
    # The mean force over 40 cm is the force at 20 cm: k * (0.20 + 0.05).
    assert told[medium[0]].mean_force_n == pytest.approx(200 * 0.25)


def test_fewer_repetitions_are_fewer_strokes(lesson, program):
    feet = program.lines.get(exercise_id="R-FW1")
    given = {"line_id": feet.pk, "mark": Mark.FEWER, "reps": 3, "by": lesson.teacher, "now": LESSON}
    actions.mark_place_line(lesson.place.pk, **given)
    actions.finish_log(models.Log.objects.get().pk, by=lesson.teacher, now=LESSON)
    assert {row.cycles for row in uses().values()} == {3}


def test_springs_that_hold_still_made_no_stroke(lesson):
    other, program = unlimited(lesson)
    still = program.lines.get(exercise_id="R-SB2")
    assert still.spring_set
    when = other.place.during.lower
    other.mark(still.pk, now=when)
    actions.finish_log(models.Log.objects.get(place=other.place).pk, by=other.teacher, now=when)
    assert uses() == {}


def test_opening_a_log_again_takes_its_strokes_back(lesson, program):
    log = lesson.teach()
    assert uses()
    actions.reopen_log(log.pk, by=lesson.teacher, now=LESSON + timedelta(minutes=61))
    assert uses() == {}


def test_nothing_of_a_body_goes_down_to_a_machine(lesson, program):
    log = lesson.teach()
    before = {key: row.mean_force_n for key, row in uses().items()}
    actions.reopen_log(log.pk, by=lesson.teacher, now=LESSON + timedelta(minutes=61))
    note(lesson, BodyFacts(stature_mm=1950, leg_mm=1300))
    actions.finish_log(log.pk, by=lesson.teacher, now=LESSON + timedelta(minutes=62))
    assert {key: row.mean_force_n for key, row in uses().items()} == before
