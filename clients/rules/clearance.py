"""The gates from the clearance table on: the sixteen leaves, the conditions' own clearance, the other answers."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta

from clients.rules.adjusting import DIABETES_POINT, Choices
from clients.rules.facts import ActiveCondition, Disease, ScreeningFacts
from clients.rules.outcomes import OUTCOMES, Outcome
from clients.rules.reasons import ReasonKind, ScreenReason, missing, reason
from clients.rules.reference import Clearance, Condition, Leaf, Rulebook

DIABETES_LEAF = 5
FORM_INTERVAL = "screening_form"
DISEASE_OF = {
    "C52": Disease.HEART_OR_VESSELS,
    "C53": Disease.HEART_OR_VESSELS,
    "C54": Disease.HEART_OR_VESSELS,
    "C58": Disease.HEART_OR_VESSELS,
    "C56": Disease.DIABETES,
    "C57": Disease.DIABETES,
}
# Their "clearance when" names another gate, which is always read.
DECIDED_BY_ANOTHER_GATE = frozenset({"C15", "C19", "C20", "C21", "C55", "C56"})
# Clearance is asked in the whole window: first before anything, then until healing and release are confirmed.
ASKED_IN_THE_WHOLE_WINDOW = frozenset({"C23"})


def known_diseases(facts: ScreeningFacts, active: Sequence[ActiveCondition]) -> frozenset[Disease] | None:
    """Diseases told or carried by a condition in force; None when nothing is told and no condition carries one."""
    carried = frozenset(DISEASE_OF[one.condition_id] for one in active if one.condition_id in DISEASE_OF)
    if facts.diseases is None:
        return carried or None
    return facts.diseases | carried


def table_reasons(
    facts: ScreeningFacts, rulebook: Rulebook, *, diseases: frozenset[Disease] | None, choices: Choices
) -> Iterator[ScreenReason]:
    """What the clearance table says. With a fact missing, what it would say at best, and that the fact is missing."""
    known = {
        "H01": facts.regularly_active,
        "H02": None if diseases is None else bool(diseases),
        "H04": None if facts.symptoms is None else bool(facts.symptoms),
        "H18": facts.intensity,
    }
    if facts.symptoms and facts.chest_pain_is_new:
        sign = rulebook.symptoms["S1"]
        says = "New pain in chest or arm: speak with a doctor the same day."
        yield reason(
            sign.id,
            ReasonKind.CLEARANCE_TABLE,
            Outcome.REFER,
            says=says,
            sources=sign.source_ids,
            rulebook=rulebook,
            about=(sign.id,),
        )
    leaves = [leaf for leaf in rulebook.leaves if _may_be(leaf, known)]
    found = [_leaf_reason(leaf, facts, rulebook, diseases, choices) for leaf in leaves]
    at_best = max(found, key=lambda one: OUTCOMES.index(one.outcome))
    if len(found) == 1 or at_best.outcome is Outcome.REFER:
        yield at_best
    yield from _unknown_inputs(facts, rulebook)


def _unknown_inputs(facts: ScreeningFacts, rulebook: Rulebook) -> Iterator[ScreenReason]:
    """The inputs of the table that are not known, save those that the list of unanswered questions names itself."""
    named = {name.split(".")[0] for one in facts.unanswered for name in (one.field_id, one.screen_id)}
    inputs: dict[tuple[str, ...], object] = {
        ("H01",): facts.regularly_active,
        ("H02", "H03"): facts.diseases,
        ("H04",): facts.symptoms,
        ("H18",): facts.intensity,
    }
    for question_ids, fact in inputs.items():
        if fact is None and not named & set(question_ids):
            question = rulebook.questions[question_ids[0]]
            yield missing(question.id, says=f"Not answered: {question.question}", rulebook=rulebook)


def _may_be(leaf: Leaf, known: Mapping[str, bool | str | None]) -> bool:
    held = {
        "H01": leaf.regularly_active,
        "H02": leaf.known_disease,
        "H04": leaf.symptoms,
        "H18": leaf.intensity,
    }
    return all(fact is None or fact == held[question_id] for question_id, fact in known.items())


def _leaf_reason(
    leaf: Leaf,
    facts: ScreeningFacts,
    rulebook: Rulebook,
    diseases: frozenset[Disease] | None,
    choices: Choices,
) -> ScreenReason:
    outcome, says, sources, chosen = Outcome(leaf.outcome), f"{_begins(leaf)}: {leaf.bookable}.", leaf.source_ids, ""
    is_disputed = leaf.leaf == DIABETES_LEAF and diseases == frozenset({Disease.DIABETES})
    if is_disputed and DIABETES_POINT in choices.positions_b:
        point = rulebook.disagreements[DIABETES_POINT]
        outcome, sources, chosen = Outcome.CLEAR_LIMITED, point.sources_b, DIABETES_POINT
        says = f"{point.point}: {point.position_b}; the owner chose this position over the default."
    return reason(
        f"leaf {leaf.leaf}",
        ReasonKind.CLEARANCE_TABLE,
        outcome,
        says=says,
        sources=sources,
        rulebook=rulebook,
        about=sorted({*(facts.symptoms or ()), *(diseases or ())}),
        chosen=chosen,
    )


def _begins(leaf: Leaf) -> str:
    if leaf.symptoms:
        return "A sign was told that a doctor should know of"
    if leaf.known_disease:
        return "A known illness of the heart or the vessels, diabetes, or a kidney illness"
    return "No sign and no such disease was told"


def condition_reasons(active: Sequence[ActiveCondition], rulebook: Rulebook) -> Iterator[ScreenReason]:
    """The clearance each condition asks for, and the windows that are open or whose end is not confirmed."""
    for one in active:
        condition = rulebook.conditions[one.condition_id]
        asked = _clearance(one, condition)
        if asked is Outcome.REFER:
            says = f"{condition.name}: written clearance first ({condition.clearance_when})."
            about = f"{one.condition_id}:{one.side or ''}:{one.since or ''}"
            yield _of_condition(condition, ReasonKind.CONDITION, asked, says, rulebook, about=(about,))
        elif asked is Outcome.INCOMPLETE:
            says = f"{condition.name}: not known whether this holds: {condition.clearance_when}."
            yield missing(condition.id, says=says, rulebook=rulebook)
        if condition.has_last_day:
            says = f"{condition.name}: in its window ({condition.phase_or_window}), until its end is confirmed."
            yield _of_condition(condition, ReasonKind.WINDOW, Outcome.CLEAR_LIMITED, says, rulebook)
            if one.since is None:
                yield missing(condition.id, says=f"{condition.name}: not known since when.", rulebook=rulebook)


def _of_condition(
    condition: Condition,
    kind: ReasonKind,
    outcome: Outcome,
    says: str,
    rulebook: Rulebook,
    about: tuple[str, ...] = (),
) -> ScreenReason:
    return reason(condition.id, kind, outcome, says=says, sources=condition.source_ids, rulebook=rulebook, about=about)


def _clearance(one: ActiveCondition, condition: Condition) -> Outcome | None:
    if condition.clearance is Clearance.NONE or condition.id in DECIDED_BY_ANOTHER_GATE:
        return None
    if condition.clearance is not Clearance.CONDITIONAL or condition.id in ASKED_IN_THE_WHOLE_WINDOW:
        return Outcome.REFER
    if one.needs_clearance is None:
        return Outcome.INCOMPLETE
    return Outcome.REFER if one.needs_clearance else None


def answer_reasons(facts: ScreeningFacts, rulebook: Rulebook, *, on: date, stated: Rulebook) -> Iterator[ScreenReason]:
    """The other answers: exercise only at a professional's side, words no one has read, age, and what is missing."""
    told = rulebook.questions["H16"]
    if facts.supervised_only:
        says = "Asked to exercise only with someone who treats you at your side: their written word comes first."
        yield reason(told.id, ReasonKind.ANSWER, Outcome.REFER, says=says, sources=told.source_ids, rulebook=rulebook)
    if facts.has_unread_words:
        says = "What was to be left out is told in words; an instructor puts it into movements first."
        yield missing(told.id, says=says, rulebook=rulebook)
    if on > valid_until(facts, rulebook):
        says = "The answers are older than the form holds; it is filled in again."
        point = "" if on > valid_until(facts, stated) else f"{FORM_INTERVAL}.days"
        yield missing(FORM_INTERVAL, says=says, rulebook=rulebook, chosen=point)
    for one in facts.unanswered:
        yield missing(one.field_id, says=f"Not answered: {one.label}", rulebook=rulebook)


def valid_until(facts: ScreeningFacts, rulebook: Rulebook) -> date:
    """The last day on which the answers hold."""
    days = rulebook.intervals[FORM_INTERVAL].days
    if days is None:
        raise ValueError("the form's interval has no days")
    return (facts.whole_on or facts.written_on) + timedelta(days=days - 1)
