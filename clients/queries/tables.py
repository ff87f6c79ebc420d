"""The rules as tables a person can read: every row in words, with its strength and its sources."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from clients.queries import whys
from clients.queries.whys import SourceLine
from clients.rules import adjusting
from clients.rules.adjusting import Choices
from clients.rules.reference import (
    Basis,
    BpGate,
    Clearance,
    Condition,
    FlagRoute,
    Intensity,
    Leaf,
    LimitRule,
    Rulebook,
)
from clients.rules.versions import KEY_JOINT, TABLE_NAMES

OVER = {"ge": "{} or more", "gt": "more than {}", "lt": "less than {}", "drop_ge": "falls by {} or more on standing"}
ROUTES = {
    FlagRoute.EMERGENCY: "emergency",
    FlagRoute.EYE_EMERGENCY: "emergency",
    FlagRoute.SAME_DAY: "postpone",
    FlagRoute.DOCTOR_BEFORE_RETURN: "refer",
}
GATE_MARKS = {"postpone": "postpone", "refer": "refer", "advise": "clear_limited", "emergency": "emergency"}
ASKED = {
    Clearance.NONE: "no letter asked",
    Clearance.ONCE: "a letter once",
    Clearance.BEFORE_ANY: "a letter before anything",
    Clearance.CONDITIONAL: "a letter when",
}
COUNTED = {
    Basis.NONE: "",
    Basis.EVENT: "from the event",
    Basis.ONSET: "from its onset",
    Basis.GESTATION: "of pregnancy, counted from 280 days before the due date",
}
# Which slug shows which table; the limits stand with their conditions.
SLUGS = {
    "conditions": "conditions",
    "demands": "demands",
    "red-flags": "red_flags",
    "signs": "symptoms",
    "clearance": "acsm_leaves",
    "pressure": "bp_gates",
    "pregnancy": "pregnancy_gates",
    "stop-signs": "stop_signs",
    "asked-again": "review_intervals",
    "disagreements": "source_disagreements",
    "questions": "health_questions",
    "sources": "sources",
}


@dataclass(frozen=True)
class Cell:
    """`mark` is the name of an outcome or level drawn before the words; `more` stands under them."""

    text: str
    mark: str = ""
    more: str = ""


@dataclass(frozen=True)
class RuleRow:
    """One row; `table` and `key` are those of its file."""

    table: str
    key: str
    label: str
    cells: tuple[Cell, ...]
    strength: str
    sources: tuple[SourceLine, ...]


@dataclass(frozen=True)
class ConditionBlock:
    """A condition with its limits below it."""

    row: RuleRow
    window: str
    asks: str
    note: str
    limits: tuple[RuleRow, ...]


@dataclass(frozen=True)
class RuleTable:
    slug: str
    name: str
    lead: str
    columns: tuple[str, ...] = ()
    rows: tuple[RuleRow, ...] = ()
    blocks: tuple[ConditionBlock, ...] = ()
    # Everything that is cited in the table once, for the print.
    cited: tuple[SourceLine, ...] = field(default=(), repr=False)


LEADS = {
    "conditions": "What each condition asks for, and what it limits. Avoid: not offered. Adapt: only in the changed "
    "form. Watch: offered, and stopped at symptoms. Of several conditions the strictest level of each demand counts.",
    "demands": "What a movement asks of a body. The same terms stand on the exercises and in the limits.",
    "red-flags": "One told with yes is enough. None is a diagnosis; they decide who must be seen.",
    "signs": "The nine signs, in the order in which they are asked. Any of them asks for a doctor’s word first.",
    "clearance": "Sixteen ends. Read from the left: signs first, then disease with activity, then the wanted effort.",
    "pressure": "Measured seated, after five quiet minutes. Of the last two pressures the lower one counts, as a pair.",
    "pregnancy": "The union of two lists, and the stricter week of each. “Discuss first” is not a no.",
    "stop-signs": "Signs in a lesson that end or change it.",
    "asked-again": "When answers, letters and measures are asked for again.",
    "disagreements": "Where sources say different things: both positions, and the default in force.",
    "questions": "The questions of the health form, in our own words, with why each is asked.",
    "sources": "Where the rules come from, and how each was checked.",
}


def names() -> tuple[tuple[str, str], ...]:
    """Every table's slug and name."""
    return tuple((slug, TABLE_NAMES[table]) for slug, table in SLUGS.items())


def rule_table(slug: str, rulebook: Rulebook, *, choices: Choices) -> RuleTable | None:
    """One table in words; None when there is none of that slug."""
    if slug not in SLUGS:
        return None
    name, lead = TABLE_NAMES[SLUGS[slug]], LEADS[slug]
    if slug == "conditions":
        blocks = tuple(_block(one, rulebook) for one in rulebook.conditions.values())
        return RuleTable(slug, name, lead, blocks=blocks, cited=_cited(_rows_of(blocks)))
    columns, build = TABLES[slug]
    rows = tuple(build(rulebook, choices))
    return RuleTable(slug, name, lead, columns, rows, cited=() if slug == "sources" else _cited(rows))


def _rows_of(blocks: Iterable[ConditionBlock]) -> Iterator[RuleRow]:
    for block in blocks:
        yield block.row
        yield from block.limits


def _cited(rows: Iterable[RuleRow]) -> tuple[SourceLine, ...]:
    return tuple(sorted({one for row in rows for one in row.sources}, key=lambda one: one.citation))


def _row(
    table: str,
    key: str,
    label: str,
    cells: Iterable[Cell | str],
    source_ids: tuple[str, ...],
    rulebook: Rulebook,
    strength: str = "",
) -> RuleRow:
    words = tuple(cell if isinstance(cell, Cell) else Cell(cell) for cell in cells)
    strength = strength or rulebook.strength_of(source_ids).value
    return RuleRow(table, key, label, words, whys.strength_words(strength), whys.source_lines(source_ids, rulebook))


def _block(one: Condition, rulebook: Rulebook) -> ConditionBlock:
    row = _row("conditions", one.id, one.name, (one.phase_or_window,), one.source_ids, rulebook, one.strength.value)
    limits = tuple(_limit(rule, rulebook) for rule in rulebook.limits_by_condition.get(one.id, ()))
    when = f" {one.clearance_when}" if one.clearance is Clearance.CONDITIONAL else ""
    return ConditionBlock(row, _window(one, rulebook), f"{ASKED[one.clearance]}{when}", one.note, limits)


def _window(one: Condition, rulebook: Rulebook) -> str:
    start, end = one.window_days_from, one.window_days_to
    if start is None and end is None:
        return ""
    days = f"day {start or 0} on" if end is None else f"day {start or 0} to {end}"
    follower = rulebook.conditions.get(one.next_condition_id)
    then = f"; then {follower.name} is proposed" if follower and one.has_last_day else ""
    return f"{days} {COUNTED[one.window_basis]}{then}".strip()


def _limit(rule: LimitRule, rulebook: Rulebook) -> RuleRow:
    key = f"{rule.condition_id}{KEY_JOINT}{rule.demand}"
    cells = (Cell("", rule.level.value), rule.how)
    demand = rulebook.demands[rule.demand]
    return _row("limits", key, demand.name, cells, rule.source_ids, rulebook, rule.strength.value)


def _demands(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    for one in rulebook.demands.values():
        cells = (one.definition, one.tag_if, one.not_if, one.default_adapt)
        yield RuleRow("demands", one.code, one.name, tuple(Cell(text) for text in cells), "", ())


def _flags(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    for one in rulebook.red_flags.values():
        cells = (one.question, one.needs_also or "nothing else", Cell(one.action, ROUTES[one.route]))
        yield _row("red_flags", one.id, one.id, cells, one.source_ids, rulebook)


def _signs(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    for one in rulebook.symptoms.values():
        yield _row("symptoms", one.id, one.id, (one.question, one.action), one.source_ids, rulebook)


def _leaves(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    for one in rulebook.leaves:
        cells = (
            "yes" if one.symptoms else "no",
            "yes" if one.known_disease else "no",
            "yes" if one.regularly_active else "no",
            "hard" if one.intensity is Intensity.VIGOROUS else "light to moderate",
            Cell(one.bookable, one.outcome, _leaf_more(one, choices)),
        )
        yield _row("acsm_leaves", str(one.leaf), f"Leaf {one.leaf}", cells, one.source_ids, rulebook)


def _leaf_more(leaf: Leaf, choices: Choices) -> str:
    is_chosen = adjusting.DIABETES_POINT in choices.positions_b and f"leaf {leaf.leaf}" in adjusting.TOUCHES["D01"]
    return "This studio: with diabetes alone, clear with limits (position b)." if is_chosen else ""


def _gates(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    book = adjusting.adjusted(rulebook, choices)
    for one in rulebook.bp_gates.values():
        held = book.bp_gates[one.id]
        cells = (
            "in pregnancy" if one.population == "pregnant" else "everybody",
            _line(one, held, "sbp"),
            _line(one, held, "dbp"),
            _line(one, held, "hr"),
            one.extra_condition,
            Cell(one.action, GATE_MARKS[one.outcome], _regime(one, choices)),
        )
        yield _row("bp_gates", one.id, one.id, cells, one.source_ids, rulebook)


def _line(stated: BpGate, held: BpGate, column: str) -> Cell:
    value, op, moved = getattr(stated, column), getattr(stated, f"{column}_op"), getattr(held, column)
    if value is None:
        return Cell("")
    own = f"This studio: {OVER[op].format(moved)}" if moved != value else ""
    return Cell(OVER[op].format(value), more=own)


def _regime(gate: BpGate, choices: Choices) -> str:
    if gate.id in adjusting.CLOSED_GATES:
        return "Only records another position; it decides nothing."
    if gate.regime in adjusting.REGIMES and gate.regime != choices.regime:
        return f"Lines {gate.regime}: not in force here."
    return f"Lines {gate.regime}: in force here." if gate.regime in adjusting.REGIMES else ""


def _pregnancy(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    for one in rulebook.pregnancy_gates.values():
        day = one.from_gestation_day
        begins = f"from {day // 7} weeks {day % 7} days" if day is not None else "always"
        mark = "postpone" if one.outcome == "stop" else one.outcome
        origin = one.list_origin.replace("_", " ")
        off = "" if one.is_on else "Not in force."
        cells = (one.statement, f"{one.level.replace('_', ' ')}, {origin} list", begins, Cell(one.action, mark, off))
        yield _row("pregnancy_gates", one.id, one.id, cells, one.source_ids, rulebook)


def _stops(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    for one in rulebook.stop_signs.values():
        yield _row("stop_signs", one.id, one.id, (one.statement, one.action), one.source_ids, rulebook)


def _intervals(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    held = adjusting.adjusted(rulebook, choices).intervals
    for one in rulebook.intervals.values():
        days = held[one.item].days
        own = f"This studio: {days} days" if days != one.days else ""
        after = [f"{one.visits} lessons"] if one.visits else []
        after += [f"{one.days} days"] if one.days is not None else []
        joint = ", whichever comes first" if one.whichever_first and len(after) == 2 else ""
        cells = (one.trigger, Cell(" or ".join(after) + joint, more=own), one.effect)
        label = one.item.replace("_", " ").capitalize()
        yield _row("review_intervals", one.item, label, cells, one.source_ids, rulebook)


def _disagreements(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    for one in rulebook.disagreements.values():
        in_force = _position(one.id, choices) or one.default_rule
        touched = ", ".join(adjusting.TOUCHES.get(one.id, ()))
        cells = (
            one.point,
            Cell(one.position_a, more=_short(one.sources_a, rulebook)),
            Cell(one.position_b, more=_short(one.sources_b, rulebook)),
            Cell(in_force, more=f"Bears on {touched}" if touched else ""),
        )
        both = tuple(dict.fromkeys((*one.sources_a, *one.sources_b)))
        yield _row("source_disagreements", one.id, one.id, cells, both, rulebook)


def _position(point: str, choices: Choices) -> str:
    if point in choices.positions_b:
        return "position b, chosen by the owner"
    if point == adjusting.REGIME_POINT and choices.regime != adjusting.DEFAULT_REGIME:
        return f"lines {choices.regime}, chosen by the owner"
    return ""


def _short(source_ids: Iterable[str], rulebook: Rulebook) -> str:
    """Who says so, short: the first words of each citation, and its year."""
    found = [rulebook.sources[one] for one in source_ids if one in rulebook.sources]
    return "; ".join(f"{one.citation.split('.')[0].split(',')[0][:60]}, {one.year}".rstrip(", ") for one in found)


def _questions(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    for one in rulebook.questions.values():
        feeds = ", ".join(word.replace("_", " ") for word in one.feeds)
        yield _row("health_questions", one.id, one.id, (one.question, one.why_we_ask, feeds), one.source_ids, rulebook)


def _sources(rulebook: Rulebook, choices: Choices) -> Iterator[RuleRow]:
    for one in rulebook.sources.values():
        (line,) = whys.source_lines((one.id,), rulebook)
        cells = (one.citation, one.year, one.kind.replace("_", " "), line.note, one.url_or_doi)
        yield RuleRow("sources", one.id, one.id, tuple(Cell(text) for text in cells), "", ())


Build = Callable[[Rulebook, Choices], Iterator[RuleRow]]
TABLES: dict[str, tuple[tuple[str, ...], Build]] = {
    "demands": (("Definition", "Counts when", "Does not count when", "Usual changed form"), _demands),
    "red-flags": (("Asked", "Counts only with", "Leads to"), _flags),
    "signs": (("Asked", "Leads to"), _signs),
    "clearance": (
        ("Any sign", "Heart, sugar or kidney disease", "Regularly active", "Wanted effort", "Leads to"),
        _leaves,
    ),
    "pressure": (("Whom", "Upper", "Lower", "Pulse", "Besides", "Leads to"), _gates),
    "pregnancy": (("Statement", "List", "Counts", "Leads to"), _pregnancy),
    "stop-signs": (("Sign", "What is done"), _stops),
    "asked-again": (("When", "After", "What follows"), _intervals),
    "disagreements": (("Point", "Position a", "Position b", "In force here"), _disagreements),
    "questions": (("Question", "Why it is asked", "Feeds"), _questions),
    "sources": (("Citation", "Year", "Kind", "How checked", "Where"), _sources),
}
