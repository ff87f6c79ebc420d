"""From answers to facts: only answers to questions that are still asked count, and what is not answered is named."""

from collections.abc import Iterator
from datetime import date

from clients.rules import limits
from clients.rules.facts import (
    ActiveCondition,
    Disease,
    Pregnancy,
    Pressure,
    Readings,
    Restriction,
    ScreeningFacts,
    Side,
    Today,
    ToldFlag,
    Unanswered,
)
from clients.rules.form import fields as f
from clients.rules.form import questions as q
from clients.rules.form.fields import Answers, Screen
from clients.rules.form.follow_ups import chosen, is_yes
from clients.rules.form.screens import due_screens, told_conditions, told_pressure
from clients.rules.reference import Condition, Intensity, Rulebook

FULL_WEEK = {"H01.days": 3, "H01.minutes": 30, "H01.months": 3}
CAESAREAN, BIRTH = "C23", "C22"
CONTROLLED, NOT_CONTROLLED, LOW_ON_STANDING = "C14", "C15", "C60"


def facts(rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None) -> ScreeningFacts:
    """What the answers say. `on` is the day they were given, from which windows and the form's own age count.

    For a later screening of the same form pass the day of signing here and the later day to `screen`.
    """
    due = due_screens(rulebook, answers, on=on, born_on=born_on)
    asked = {field.id for screen in due for field in screen.fields}
    live = {field_id: value for field_id, value in answers.items() if field_id in asked}
    return ScreeningFacts(
        written_on=on,
        regularly_active=_regularly_active(live),
        diseases=_diseases(live),
        symptoms=_symptoms(rulebook, live),
        chest_pain_is_new=is_yes(live, "S1") and is_yes(live, "S1.new"),
        intensity=_intensity(live),
        conditions=tuple(_conditions(rulebook, live, on=on)),
        flags=tuple(_flags(rulebook, live)),
        readings=_readings(live),
        pregnancy=_pregnancy(live),
        today=frozenset(Today(one) for one in chosen(live, "H17") if one in set(Today)),
        restrictions=tuple(_restrictions(live)),
        has_unread_words=any(f.OTHER in chosen(live, f"{one}.terms") for one in ("H10", "H16")),
        supervised_only="supervised" in chosen(live, "H16"),
        unanswered=tuple(_unanswered(due, live)),
    )


def _unanswered(due: list[Screen], live: Answers) -> Iterator[Unanswered]:
    for screen in due:
        for field in screen.fields:
            if field.required and not f.is_answered(field, live):
                yield Unanswered(field.id, screen.id, field.label)


def _regularly_active(live: Answers) -> bool | None:
    """Planned, moderate or harder, 30 minutes, 3 days a week, for 3 months (riebe2015, second hand)."""
    numbers = [live.get(field_id) for field_id in FULL_WEEK]
    effort = live.get("H01.effort")
    if effort is None or not all(isinstance(number, int) for number in numbers):
        return None
    enough = all(
        isinstance(number, int) and number >= least for number, least in zip(numbers, FULL_WEEK.values(), strict=True)
    )
    return enough and effort in ("moderate", "hard")


def _diseases(live: Answers) -> frozenset[Disease] | None:
    """A yes to the question counts as the disease, whatever is chosen below it."""
    if any(live.get(question_id) is None for question_id in ("H02", "H03")):
        return None
    found = {Disease.HEART_OR_VESSELS} if is_yes(live, "H02") else set()
    if is_yes(live, "H03"):
        told = chosen(live, "H03.conditions")
        found |= {Disease.KIDNEY} if "kidney" in told else set()
        found |= {Disease.DIABETES} if told != {"kidney"} else set()
    return frozenset(found)


def _symptoms(rulebook: Rulebook, live: Answers) -> frozenset[str] | None:
    present = frozenset(sign for sign in rulebook.symptoms if is_yes(live, sign))
    is_whole = all(live.get(sign) is not None for sign in rulebook.symptoms)
    return present if present or is_whole else None


def _intensity(live: Answers) -> Intensity | None:
    told = live.get("H18.intensity")
    return Intensity(told) if isinstance(told, str) and told in set(Intensity) else None


def _conditions(rulebook: Rulebook, live: Answers, *, on: date) -> Iterator[ActiveCondition]:
    told = {one for question_id in q.REVEALS for one in told_conditions(question_id, live)} & set(rulebook.conditions)
    if live.get("H05") in ("high", "high_and_low"):
        is_controlled = live.get("H05.treated") == f.YES and live.get("H05.controlled") == f.YES
        told.add(CONTROLLED if is_controlled else NOT_CONTROLLED)
    if live.get("H05") in ("low", "high_and_low"):
        told.add(LOW_ON_STANDING)
    found = [_condition(condition_id, rulebook, live, on=on) for condition_id in sorted(told)]
    yield from _each_once([*filter(None, found), *filter(None, [_after_birth(rulebook, live, on=on)])])


def _each_once(told: list[ActiveCondition]) -> Iterator[ActiveCondition]:
    """One for each condition and side: the later day counts, and what is unknown of one is unknown of both."""
    together: dict[tuple[str, Side | None], list[ActiveCondition]] = {}
    for one in told:
        together.setdefault((one.condition_id, one.side), []).append(one)
    for (condition_id, side), same in together.items():
        days = [one.since for one in same]
        known = [day for day in days if day is not None]
        clearances = {one.needs_clearance for one in same}
        yield ActiveCondition(
            condition_id,
            side,
            since=max(known) if known and len(known) == len(days) else None,
            needs_clearance=True if True in clearances else (None if None in clearances else False),
            is_held=any(one.is_held for one in same),
        )


def _condition(condition_id: str, rulebook: Rulebook, live: Answers, *, on: date) -> ActiveCondition | None:
    """The row of the condition's windows that holds; None when the last of them is over."""
    row: Condition | None = rulebook.conditions[condition_id]
    since, is_held = _day(live, f"{condition_id}.since"), is_yes(live, f"{condition_id}.still")
    if row is not None and since is not None and not is_held:
        row = limits.condition_on(row, rulebook, since=since, on=on)
    if row is None:
        return None
    side = _side(live, condition_id) if row.is_sided else None
    return ActiveCondition(row.id, side, since, _needs_clearance(live, condition_id), is_held)


def _after_birth(rulebook: Rulebook, live: Answers, *, on: date) -> ActiveCondition | None:
    if "birth" not in chosen(live, "H13"):
        return None
    row: Condition | None = rulebook.conditions[CAESAREAN if live.get("H13.way") == "caesarean" else BIRTH]
    since = _day(live, "H13.birth")
    if row is not None and since is not None:
        row = limits.condition_on(row, rulebook, since=since, on=on)
    return None if row is None else ActiveCondition(row.id, None, since, _needs_clearance(live, BIRTH))


def _side(live: Answers, condition_id: str) -> Side | None:
    told = live.get(f"{condition_id}.side")
    if told is None:
        return None
    return Side(told) if isinstance(told, str) and told in set(Side) else Side.BOTH


def _needs_clearance(live: Answers, condition_id: str) -> bool | None:
    field_id = f"{condition_id}.clearance"
    return None if live.get(field_id) is None else is_yes(live, field_id)


def _flags(rulebook: Rulebook, live: Answers) -> Iterator[ToldFlag]:
    has_pain = bool(chosen(live, "H07.where") & q.BACK_OR_LEG)
    is_where_told = bool(chosen(live, "H07.where"))
    at_rest = is_yes(live, "S1.rest")
    for flag_id in rulebook.red_flags:
        told = live.get(flag_id)
        if flag_id in q.BACK_FLAGS:
            if told in ("new", "old", f.YES, f.NOT_SURE):
                yield ToldFlag(flag_id, told != "old" and (has_pain or not is_where_told))
        elif is_yes(live, flag_id) or (flag_id == "F20" and at_rest):
            yield ToldFlag(flag_id)


def _readings(live: Answers) -> Readings:
    pair = told_pressure(live)
    treated, signs = live.get("H05.treated"), live.get("H05.now")
    return Readings(
        told=Pressure(*pair) if pair else None,
        is_treated=None if treated is None else treated == f.YES,
        has_signs=None if signs is None else is_yes(live, "H05.now"),
    )


def _pregnancy(live: Answers) -> Pregnancy | None:
    if "pregnant" not in chosen(live, "H13"):
        return None
    ticked = {one for field_id in ("H13.gates", "H13.talk", "H13.now") for one in chosen(live, field_id)} - {f.NONE}
    ticked |= {other for one in ticked for other in q.SAME_STATEMENT.get(one, ())}
    return Pregnancy(_day(live, "H13.due"), frozenset(ticked))


def _restrictions(live: Answers) -> Iterator[Restriction]:
    for question_id in ("H10", "H16"):
        terms = [q.TERMS[term] for term in sorted(chosen(live, f"{question_id}.terms")) if term in q.TERMS]
        demands = frozenset(demand for _, demands in terms for demand in demands)
        if demands:
            yield Restriction(demands, question_id)


def _day(live: Answers, field_id: str) -> date | None:
    value = live.get(field_id)
    try:
        return date.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None
