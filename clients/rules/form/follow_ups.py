"""The screens that only follow from an earlier answer."""

from collections.abc import Iterator
from datetime import date

from clients.rules.form import fields as f
from clients.rules.form import questions as q
from clients.rules.form.expecting import LONGEST_OVERDUE
from clients.rules.form.fields import Answers, Choice, Field, Screen
from clients.rules.reference import Basis, Clearance, Condition, PregnancyGate, Rulebook

BY_ANOTHER_ANSWER = frozenset({"C14", "C15", "C22"})


def chosen(answers: Answers, field_id: str) -> frozenset[str]:
    """The words chosen in a list of many; none when it is unanswered or holds something else."""
    value = answers.get(field_id)
    return frozenset(one for one in value if isinstance(one, str)) if isinstance(value, list | tuple) else frozenset()


def is_yes(answers: Answers, field_id: str) -> bool:
    """Whether the answer is yes, or may be: not sure is never a no."""
    return answers.get(field_id) in (f.YES, f.NOT_SURE)


def label_of(condition: Condition) -> str:
    return q.LABELS.get(condition.id, condition.name)


def which_of_these(question_id: str, rulebook: Rulebook) -> Screen:
    """The list of conditions that a yes may mean."""
    offered = [Choice(one, label_of(rulebook.conditions[one])) for one in q.REVEALS[question_id]]
    others = q.OTHER_CHOICES.get(question_id, (q.NONE_OF_THESE,))
    asked = [f.many(f"{question_id}.conditions", "Which of these fit?", [*offered, *others])]
    if question_id == "H07":
        where = f.many("H07.where", "Where is it?", q.WHERE)
        asked = [
            where,
            *asked,
            Field("H07.since", f.FieldKind.DATE, "Since when?", required=False, low=-f.DAYS_OF_A_LIFE, high=0),
        ]
    if question_id == "H10":
        terms = [q.NOTHING_LEFT_OUT, *q.TERM_CHOICES]
        asked.append(f.many("H10.terms", "What were you told to leave out, and still should?", terms))
    title = q.TITLES.get(rulebook.questions[question_id].topic, "This")
    if question_id not in ("H07", "H10"):
        asked.append(f.text(f"{question_id}.when", f"{title}: since when?", help="A year will do."))
    asked.append(f.text(f"{question_id}.treated_by", f"{title}: who treats you for it, or did?"))
    more = q.OWN_WORDS.get(question_id, "Anything you would like to add, in your own words")
    asked.append(f.text(f"{question_id}.words", f"{title}: {more[0].lower()}{more[1:]}"))
    return _after(question_id, rulebook, tuple(asked))


def _after(question_id: str, rulebook: Rulebook, asked: tuple[Field, ...]) -> Screen:
    question = rulebook.questions[question_id]
    title = q.TITLES.get(question.topic, question.topic)
    return Screen(f"{question_id}.more", title, "Tell us a little more.", question.why_we_ask, asked)


def details(condition_id: str, rulebook: Rulebook) -> Screen | None:
    """What has to be known of a condition: since when, which side, and what decides about a doctor's word."""
    first = rulebook.conditions[condition_id]
    chain = [first, *filter(None, [rulebook.conditions.get(first.next_condition_id)])]
    asked: list[Field] = []
    if first.has_last_day:
        asked.append(f.past_date(f"{condition_id}.since", q.SINCE_LABELS.get(condition_id, "When was it?")))
    if any(row.is_sided for row in chain):
        asked.append(f.choice(f"{condition_id}.side", "Which side?", f.SIDES))
    if condition_id in q.STILL:
        asked.append(f.yes_no_unsure(f"{condition_id}.still", q.STILL[condition_id]))
    if condition_id in q.CLEARANCE_QUESTIONS:
        asked.append(f.yes_no_unsure(f"{condition_id}.clearance", q.CLEARANCE_QUESTIONS[condition_id]))
    if not asked:
        return None
    why = "It tells us what to leave out, on which side, and for how long."
    return Screen(condition_id, "A little more", label_of(first), why, tuple(asked))


def chest_pain(rulebook: Rulebook) -> Screen:
    asked = (
        f.yes_no("S1.rest", "Is it there at rest, or right now?", help=q.IF_NOT_SURE),
        f.yes_no_unsure("S1.new", "Did it begin in the last weeks?"),
    )
    why = rulebook.questions["H04"].why_we_ask
    return Screen("S1.more", "Pain in chest or arm", "Tell us a little more about this pain.", why, asked)


def high_pressure(rulebook: Rulebook) -> Screen:
    asked = (
        f.yes_no("H05.treated", "Are you treated for it?"),
        f.yes_no_unsure("H05.controlled", "Does it stay under 140 over 90?"),
        f.text("H05.when", "Blood pressure: since when?", help="A year will do."),
        f.text("H05.treated_by", "Blood pressure: who looks after it?"),
    )
    return _after("H05", rulebook, asked)


def very_high_pressure(rulebook: Rulebook) -> Screen:
    label = "Right now: are you confused, is there chest pain, are you short of breath, or has your sight changed?"
    why = rulebook.questions["H05"].why_we_ask
    asked = (f.yes_no("H05.now", label, help=q.IF_NOT_SURE),)
    return Screen("H05.now", "Blood pressure", "One more question about this value.", why, asked)


def flags(screen_id: str, flag_ids: tuple[str, ...], rulebook: Rulebook, *, title: str) -> Screen:
    """Red flags, asked one under the other; a yes sends to a doctor, it names nothing."""
    why = "Some signs want a doctor first. A yes does not mean that something is wrong."
    return Screen(
        screen_id, title, "Is any of this true for you?", why, tuple(_flag(one, rulebook) for one in flag_ids)
    )


def _flag(flag_id: str, rulebook: Rulebook) -> Field:
    question = rulebook.red_flags[flag_id].question
    if flag_id in q.BACK_FLAGS:
        return f.choice(flag_id, question, q.WHEN_OF_BACK_FLAG)
    return f.yes_no(flag_id, question, help=q.IF_NOT_SURE)


def back_flag_ids(answers: Answers, *, on: date, born_on: date | None) -> tuple[str, ...]:
    """The red flags that pain of back or neck opens; the one for the oldest is left out for a younger client."""
    where = chosen(answers, "H07.where")
    spine: tuple[str, ...] = q.SPINE_FLAGS if where & q.SPINE else ()
    if born_on is not None and _age(born_on, on) <= q.OLDEST_WITHOUT_F10:
        spine = tuple(one for one in spine if one != "F10")
    neck = q.NECK_FLAGS if "neck" in where else ()
    return (*q.BACK_FLAGS, *neck, *spine, *q.BACK_PAIN_FLAGS)


def _age(born_on: date, on: date) -> int:
    return on.year - born_on.year - ((on.month, on.day) < (born_on.month, born_on.day))


def pregnancy(answers: Answers, rulebook: Rulebook) -> Iterator[Screen]:
    """The due date and the gates; the day and way of a birth."""
    told = chosen(answers, "H13")
    if "pregnant" in told:
        due = Field("H13.due", f.FieldKind.DATE, "When is the baby due?", low=-LONGEST_OVERDUE, high=294)
        weeks = Field(
            "H13.weeks", f.FieldKind.NUMBER, "Or, without a date: how many whole weeks is it today?",
            required=False, help="Whole weeks. We keep the day that they lead to.", low=1, high=42,
        )  # fmt: skip
        yield _after("H13", rulebook, (due, weeks, f.text("H13.treated_by", "Who looks after you in this pregnancy?")))
        yield _gates("H13.gates", "absolute", "Has anyone told you any of these?", rulebook)
        yield _gates("H13.talk", "relative", "And is any of these so?", rulebook)
        yield _gates("H13.now", "stop_sign", "Is any of this there now?", rulebook)
    if "birth" in told:
        asked = (
            f.past_date("H13.birth", "When was the birth?", earliest=-731),
            f.choice("H13.way", "How was it?", [Choice("vaginal", "Vaginal"), Choice("caesarean", "Caesarean")]),
            f.yes_no_unsure("C22.clearance", q.CLEARANCE_QUESTIONS["C22"]),
            f.text("H13.birth_by", "Who looked after you, or does?"),
        )
        why = rulebook.questions["H13"].why_we_ask
        yield Screen("H13.birth", "After the birth", "Tell us a little about the birth.", why, asked)


def _gates(field_id: str, level: str, question: str, rulebook: Rulebook) -> Screen:
    asked_with = {other for others in q.SAME_STATEMENT.values() for other in others}
    gates = [gate for gate in rulebook.pregnancy_gates.values() if gate.level == level and gate.is_on]
    choices = [Choice(gate.id, _statement(gate)) for gate in gates if gate.id not in asked_with]
    none = Choice(f.NONE, "None of these", is_alone=True)
    why = "If one is so, your midwife or doctor decides with you what is right now."
    return Screen(field_id, "Pregnancy", question, why, (f.many(field_id, question, [none, *choices]),))


def _statement(gate: PregnancyGate) -> str:
    return q.PLACENTA_LABEL if gate.id in q.SAME_STATEMENT else gate.statement


def told_to_leave_out(rulebook: Rulebook) -> Screen:
    asked = (
        f.many("H16.terms", "What should you leave out?", q.TERM_CHOICES),
        f.text("H16.who", "Who asked you to?"),
        f.text("H16.words", "Anything you would like to add, in their words or yours"),
    )
    return _after("H16", rulebook, asked)


def unreachable(rulebook: Rulebook) -> frozenset[str]:
    """Conditions of the rule book that no answer can lead to; empty when the form fits the book."""
    offered = {one for ids in q.REVEALS.values() for one in ids} | BY_ANOTHER_ANSWER
    stages = {row.id for row in rulebook.conditions.values() if row.window_basis is Basis.GESTATION}
    following = {
        row.next_condition_id for row in rulebook.conditions.values() if row.id in offered and row.next_condition_id
    }
    return frozenset(rulebook.conditions) - offered - stages - following


def unasked_clearances(rulebook: Rulebook, decided_elsewhere: frozenset[str]) -> frozenset[str]:
    """Conditions whose clearance hangs on an answer that the form does not ask for; empty when the form fits."""
    asked = {row.id for row in rulebook.conditions.values() if row.clearance is Clearance.CONDITIONAL}
    return frozenset(asked) - frozenset(q.CLEARANCE_QUESTIONS) - decided_elsewhere
