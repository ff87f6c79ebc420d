"""The health form, one screen at a time: the eighteen questions in order, each with what follows from its answer."""

from collections.abc import Iterator
from datetime import date

from clients.rules.form import fields as f
from clients.rules.form import follow_ups
from clients.rules.form import questions as q
from clients.rules.form.fields import Answers, Choice, Field, Screen
from clients.rules.form.follow_ups import chosen, is_yes
from clients.rules.reference import Rulebook

IF_NOT_SURE = "If you are not sure, say yes: we then ask a little more."
# Asked by more than a yes and a no.
OWN_SHAPE = frozenset({"H01", "H04", "H05", "H13", "H15", "H16", "H17", "H18"})
VERY_HIGH = (180, 120)
WHY_FIRST = "If one of these is so, help comes before everything else."


def due_screens(rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None) -> list[Screen]:
    """Every screen that these answers call for, in order, whether or not an answer stops the form."""
    found = [follow_ups.flags("safety", q.EMERGENCY_FLAGS, rulebook, title="Before we begin")]
    detailed: set[str] = set()
    for question_id in rulebook.questions:
        found.append(_question(question_id, rulebook))
        for screen in _that_follow(question_id, rulebook, answers, on=on, born_on=born_on):
            if screen.id not in detailed:
                found.append(screen)
            detailed.add(screen.id)
    return found


def _question(question_id: str, rulebook: Rulebook) -> Screen:
    question = rulebook.questions[question_id]
    asked = _fields(question_id, question.question, rulebook)
    title = q.TITLES.get(question.topic, question.topic)
    return Screen(question_id, title, question.question, question.why_we_ask, asked)


def _fields(question_id: str, label: str, rulebook: Rulebook) -> tuple[Field, ...]:
    if question_id not in OWN_SHAPE:
        return (f.yes_no(question_id, q.YES_NO_LABELS.get(question_id, label), help=IF_NOT_SURE),)
    if question_id == "H01":
        return _usual_week()
    if question_id == "H04":
        signs = tuple(f.yes_no_unsure(sign.id, sign.question) for sign in rulebook.symptoms.values())
        return (*signs, f.text("H04.words", "About a sign you know: since when, and what was done"))
    if question_id == "H05":
        return _pressure(label)
    if question_id == "H15":
        return (
            f.yes_no("H15", "Do you take any medicine?"),
            f.yes_no_unsure("H15.changed", "Has a medicine changed lately?"),
            f.text("H15.words", "Which ones?", help="One on a line, as the packet names it."),
        )
    if question_id == "H18":
        return _wishes(label)
    asked = f.many(question_id, label, _choices(question_id))
    if question_id in q.WORDS_BESIDE:
        return asked, f.text(f"{question_id}.words", q.WORDS_BESIDE[question_id])
    return (asked,)


def _choices(question_id: str) -> tuple[Choice, ...]:
    if question_id == "H13":
        return (
            Choice(f.NONE, "None of these", is_alone=True),
            Choice("pregnant", "I am pregnant"),
            Choice("birth", "I gave birth in the past year"),
            Choice("loss", "I lost a pregnancy in the past year"),
        )
    if question_id == "H16":
        return (
            Choice(f.NONE, "No", is_alone=True),
            Choice("leave_out", "To leave something out"),
            Choice("supervised", "To exercise only with one of them at my side"),
        )
    return q.TODAY


def _usual_week() -> tuple[Field, ...]:
    efforts = (
        Choice("light", "Light: I could sing"),
        Choice("moderate", "Moderate: I can talk, not sing"),
        Choice("hard", "Hard: only a few words at a time"),
        Choice(f.NONE, "I do not exercise by plan"),
    )
    return (
        f.number("H01.days", "On how many days a week do you exercise by plan?", low=0, high=7, help="0 is fine."),
        f.number("H01.minutes", "For how many minutes on such a day?", low=0, high=600, help="0 is fine."),
        f.choice("H01.effort", "How hard is it, most of the time?", efforts),
        f.number(
            "H01.months", "For how many months has it been so?", low=0, high=1200, help="Whole months; 0 is fine."
        ),
        f.text("H01.words", "Walking, stairs, lifting, sport: tell us about your week"),
    )


def _pressure(label: str) -> tuple[Field, ...]:
    known = (
        Choice("usual", "Nobody found it too high or too low"),
        Choice("high", "It is or was too high"),
        Choice("low", "It is low, or falls when I stand up"),
        Choice("high_and_low", "Too high, and it falls when I stand up"),
        Choice("unknown", "I do not know it"),
    )
    value = Field("H05.value", f.FieldKind.PRESSURE, "Your last value, if you know it", required=False)
    return f.choice("H05", label, known), value, f.text("H05.words", "Blood pressure: anything you would like to add")


def _wishes(label: str) -> tuple[Field, ...]:
    efforts = (
        Choice("light_moderate", "Light to moderate: I can talk while I move"),
        Choice("vigorous", "Hard: I want to be out of breath"),
    )
    return f.choice("H18.intensity", "How hard would you like to work?", efforts), f.text("H18", label)


def _that_follow(
    question_id: str, rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None
) -> Iterator[Screen]:
    if question_id in q.REVEALS and is_yes(answers, question_id):
        yield follow_ups.which_of_these(question_id, rulebook)
    told = [one for one in q.REVEALS.get(question_id, ()) if one in told_conditions(question_id, answers)]
    if question_id == "H05" and answers.get("H05") in ("low", "high_and_low"):
        told = ["C60"]
    yield from (screen for one in told if (screen := follow_ups.details(one, rulebook)))
    if question_id == "H07" and is_yes(answers, "H07"):
        ids = follow_ups.back_flag_ids(answers, on=on, born_on=born_on)
        yield follow_ups.flags("H07.signs", ids, rulebook, title="Back and neck")
    if question_id == "H08" and (is_yes(answers, "H07") or is_yes(answers, "H08")):
        yield follow_ups.flags("H08.signs", q.PAIN_FLAGS, rulebook, title="About the pain")
    if question_id == "H12":
        yield follow_ups.flags("H12.signs", q.ALWAYS_FLAGS, rulebook, title="Three more signs")
    yield from _of_own_shape(question_id, rulebook, answers)


def _of_own_shape(question_id: str, rulebook: Rulebook, answers: Answers) -> Iterator[Screen]:
    if question_id == "H04" and is_yes(answers, "S1"):
        yield follow_ups.chest_pain(rulebook)
    if question_id == "H05" and answers.get("H05") in ("high", "high_and_low"):
        yield follow_ups.high_pressure(rulebook)
    if question_id == "H05" and _is_very_high(answers):
        yield follow_ups.very_high_pressure(rulebook)
    if question_id == "H13":
        yield from follow_ups.pregnancy(answers, rulebook)
    if question_id == "H16" and "leave_out" in chosen(answers, "H16"):
        yield follow_ups.told_to_leave_out(rulebook)


def told_conditions(question_id: str, answers: Answers) -> frozenset[str]:
    """What was chosen in a question's list, as long as the question itself is not answered with no."""
    if not is_yes(answers, question_id):
        return frozenset()
    told = chosen(answers, f"{question_id}.conditions")
    return told | {one for word in told for one in q.EITHER.get(word, ())}


def told_pressure(answers: Answers) -> tuple[int, int] | None:
    """The systolic and diastolic pressure (mmHg) that the client told, or None."""
    value = answers.get("H05.value")
    if not isinstance(value, dict):
        return None
    pair = (value.get("systolic"), value.get("diastolic"))
    return (pair[0], pair[1]) if isinstance(pair[0], int) and isinstance(pair[1], int) else None


def _is_very_high(answers: Answers) -> bool:
    pair = told_pressure(answers)
    return pair is not None and (pair[0] >= VERY_HIGH[0] or pair[1] >= VERY_HIGH[1])
