"""A case that nobody has, asked of the rules on a page; nothing of it is kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from clients import queries
from clients.pages.rules import is_owner, rules_asked_for
from clients.queries import trials
from clients.queries import versions as version_queries
from clients.rules import posted_case, trying
from clients.rules.reference import Rulebook
from studio.rules import Reason, Refused

Given = dict[str, list[str]]
Options = Sequence[tuple[str, str]]

# Invented cases to begin with, in the page's own field names.
EXAMPLES: dict[str, tuple[str, dict[str, list[str]]]] = {
    "1": (
        "34, inactive, nothing told, 116/72",
        {
            "regularly_active": ["no"],
            "intensity": ["light_moderate"],
            "diseases": ["none"],
            "symptoms": ["none"],
            "systolic.0": ["116"],
            "diastolic.0": ["72"],
            "heart_rate": ["66"],
        },
    ),
    "2": (
        "52, inactive, type 2 diabetes, wants moderate work",
        {
            "regularly_active": ["no"],
            "intensity": ["light_moderate"],
            "diseases": ["diabetes"],
            "symptoms": ["none"],
            "condition.0": ["C56"],
        },
    ),
    "3": (
        "67, inactive, thin bones without a fracture, pressure 136/84 under control",
        {
            "regularly_active": ["no"],
            "intensity": ["light_moderate"],
            "diseases": ["none"],
            "symptoms": ["none"],
            "condition.0": ["C01"],
            "clearance.0": ["no"],
            "condition.1": ["C14"],
            "systolic.0": ["136"],
            "diastolic.0": ["84"],
            "heart_rate": ["72"],
        },
    ),
}
DISEASES = [("none", "none"), ("heart_or_vessels", "heart or vessels"), ("diabetes", "diabetes"), ("kidney", "kidney")]
STATES = [
    ("fever", "fever"),
    ("ill", "ill in general"),
    ("irregular_pulse", "new irregular pulse"),
    ("wheezing", "wheezing"),
]
YES_NO = [("", "not known"), ("no", "no"), ("yes", "yes")]
EFFORTS = [("", "not known"), ("light_moderate", "light to moderate"), ("vigorous", "hard")]
SIDES = [("", "not known"), ("left", "left"), ("right", "right"), ("both", "both")]
LEVELS = [("avoid", "left out"), ("adapt", "only changed"), ("watch", "watched")]
TICK = [("yes", "")]


@dataclass(frozen=True)
class Entry:
    """One field of the form: `kind` is choice, many, tick, date, number or text; `given` are the words in it."""

    name: str
    label: str
    kind: str
    options: Options
    given: tuple[str, ...]
    error: str
    hint: str

    @property
    def first(self) -> str:
        return self.given[0] if self.given else ""


@dataclass(frozen=True)
class Group:
    """Entries under one heading; `folds` where the list is long, `is_open` when something is told or wrong in it."""

    title: str
    entries: tuple[Entry, ...]
    folds: bool = False

    @property
    def is_open(self) -> bool:
        return any(one.error or any(one.given) for one in self.entries)


class _Maker:
    def __init__(self, given: Given, errors: dict[str, str]) -> None:
        self.given, self.errors = given, errors

    def __call__(self, kind: str, name: str, label: str, options: Options = (), hint: str = "") -> Entry:
        given = tuple(one[:200] for one in self.given.get(name, ()))
        return Entry(name, label, kind, options, given, self.errors.get(name, ""), hint)


@require_http_methods(["GET", "HEAD", "POST"])
def rules_try(request: HttpRequest) -> HttpResponse:
    """A case in, what the rules say of it out; with a second version, what that one says otherwise."""
    posted: Given = {name: [str(one) for one in values] for name, values in request.POST.lists()}
    given = posted or EXAMPLES.get(request.GET.get("example", ""), ("", {}))[1]
    version = rules_asked_for(_one(given, "version") or request.GET.get("version", ""))
    against = _one(given, "against") or request.GET.get("against", "")
    other = rules_asked_for(against) if against else None
    if request.method != "POST":
        return _page(request, given, version, other)
    try:
        found = _tried(posted, version, other)
    except Refused as refused:
        return _page(request, given, version, other, reasons=refused.reasons)
    return _page(request, given, version, other, found=found)


def _page(
    request: HttpRequest,
    given: Given,
    version: queries.RulesInForce,
    other: queries.RulesInForce | None,
    *,
    reasons: Sequence[Reason] = (),
    found: dict[str, Any] | None = None,
) -> HttpResponse:
    errors = {one.field: one.says for one in reasons}
    shown = {
        "groups": _groups(_Maker(given, errors), version.rulebook),
        "rows": _condition_rows(_Maker(given, errors), version.rulebook),
        "reasons": reasons,
        "examples": [(key, name) for key, (name, _) in EXAMPLES.items()],
        "version": version_queries.version(version.id),
        "against_id": other.id if other else None,
        "versions": version_queries.versions(),
        "owns": is_owner(request),
    }
    return render(request, "clients/rules_try.html", shown | (found or {}), status=422 if reasons else 200)


def _tried(
    posted: Given, version: queries.RulesInForce, other: queries.RulesInForce | None
) -> dict[str, trials.TriedCase | trials.Comparison]:
    case, wrong = posted_case.read(posted)
    if wrong:
        raise Refused(wrong)
    on = case["on"] or queries.house_day(timezone.now())
    facts = trying.facts_from(case, on=on)
    try:
        found = trials.tried_case(facts, on=on, version_id=version.id)
    except Refused as refused:
        named = [Reason(one.code, one.says, posted_case.field_of(one.field, case)) for one in refused.reasons]
        raise Refused(named) from refused
    if other is None or other.id == version.id:
        return {"tried": found}
    by_other = trials.tried_case(facts, on=on, version_id=other.id)
    return {"tried": found, "other": by_other, "between": trials.between(by_other, found)}


def _condition_rows(entry: _Maker, book: Rulebook) -> list[list[Entry]]:
    names = [
        ("", "none"),
        *((one.id, _named(one.id, one.name, one.phase_or_window)) for one in book.conditions.values()),
    ]
    return [
        [
            entry("choice", f"condition.{at}", f"Condition {at + 1}", names),
            entry("choice", f"side.{at}", "Side", SIDES),
            entry("date", f"since.{at}", "Since"),
            entry("choice", f"clearance.{at}", "Its own question for a letter", YES_NO),
            entry("tick", f"held.{at}", "Still held, by pain or the like", TICK),
        ]
        for at in range(posted_case.CONDITIONS)
    ]


def _named(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def _groups(entry: _Maker, book: Rulebook) -> list[Group]:
    demands = [(one.code, one.name) for one in book.demands.values()]
    return [
        *_always(entry),
        Group("Signs", _signs(entry, book), folds=True),
        Group("Red flags", _flags(entry, book), folds=True),
        Group("Pregnancy", _pregnancy(entry, book), folds=True),
        Group("Told to leave out", _left_out(entry, demands), folds=True),
        Group("A clinician’s letter", _letter(entry, demands), folds=True),
    ]


def _always(entry: _Maker) -> list[Group]:
    day = (
        entry("date", "on", "Tried on", hint="Today without one."),
        entry("date", "written_on", "Answers given on", hint="The same day without one."),
    )
    habit = (
        entry("choice", "regularly_active", "Regularly active", YES_NO),
        entry("choice", "intensity", "Wanted effort", EFFORTS),
    )
    return [
        Group("The day", day),
        Group("Habit and wish", habit),
        Group("Known disease", (entry("many", "diseases", "", DISEASES, "Nothing ticked: not known."),)),
        Group("Today", (entry("many", "today", "", STATES),)),
        Group("Readings at rest", _readings(entry)),
    ]


def _signs(entry: _Maker, book: Rulebook) -> tuple[Entry, ...]:
    options = [("none", "none of them"), *_asked(book.symptoms)]
    return (
        entry("many", "symptoms", "", options, "Nothing ticked: not known."),
        entry("tick", "chest_pain_is_new", "Pain in chest or arm is new within weeks", TICK),
    )


def _flags(entry: _Maker, book: Rulebook) -> tuple[Entry, ...]:
    needing = [(one.id, f"{one.id}: {one.needs_also}") for one in book.red_flags.values() if one.needs_also]
    return (
        entry("many", "flags", "Told with yes", _asked(book.red_flags)),
        entry("many", "flags_without", "Told, but without what it counts only with", needing),
    )


def _pregnancy(entry: _Maker, book: Rulebook) -> tuple[Entry, ...]:
    statements = [(one.id, f"{one.id}: {one.statement}") for one in book.pregnancy_gates.values()]
    return (
        entry("tick", "is_pregnant", "Pregnant", TICK),
        entry("date", "due_on", "Due on"),
        entry("many", "gates", "Statements that are so", statements),
    )


def _left_out(entry: _Maker, demands: Options) -> tuple[Entry, ...]:
    return (
        entry("many", "left_out", "Demands", demands),
        entry("choice", "left_out_level", "How", LEVELS),
        entry("tick", "has_unread_words", "Something in words nobody has read", TICK),
        entry("tick", "supervised_only", "Only at the side of somebody who treats the client", TICK),
    )


def _asked(rows: Any) -> list[tuple[str, str]]:
    return [(one.id, f"{one.id}: {one.question}") for one in rows.values()]


def _readings(entry: _Maker) -> tuple[Entry, ...]:
    return (
        entry("number", "systolic.0", "Upper, first"),
        entry("number", "diastolic.0", "Lower, first"),
        entry("number", "systolic.1", "Upper, repeat"),
        entry("number", "diastolic.1", "Lower, repeat"),
        entry("number", "heart_rate", "Heart rate"),
        entry("number", "standing_drop", "Fall on standing"),
        entry("choice", "is_treated", "Takes medicine for it", YES_NO),
        entry("choice", "has_signs", "Confusion, chest pain, breathlessness or change of sight", YES_NO),
        entry("tick", "faint_with_low_pressure", "Faint with low pressure", TICK),
    )


def _letter(entry: _Maker, demands: Options) -> tuple[Entry, ...]:
    return (
        entry("date", "letter_dated", "Dated", hint="The day tried without one."),
        entry("date", "letter_holds_until", "Holds until", hint="The day tried without one."),
        entry("text", "letter_answers", "Answers these rules", hint="Ids with commas between: leaf 5, C23."),
        entry("choice", "letter_effort", "Hardest effort it allows", EFFORTS),
        entry("many", "letter_allows", "Allows", demands),
        entry("many", "letter_forbids", "Forbids", demands),
    )


def _one(given: Given, name: str) -> str:
    return (given.get(name) or [""])[0]
