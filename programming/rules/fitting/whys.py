"""Why a line became what it is: the limits behind it, and in words what else decided."""

from collections.abc import Collection, Mapping, Sequence

from clients.rules.outcomes import Level
from programming.rules.fitting.candidates import Options, Search, open_groups
from programming.rules.fitting.forms import Form
from programming.rules.fitting.pooled import Variant
from programming.rules.fitting.result import LEVEL_ORDER, LimitFact, Rule, Why
from programming.rules.marks import Decision
from programming.rules.repertoire import ExerciseRow
from programming.rules.validation.templates import unsafe_states

Limits = Mapping[str, LimitFact]


def whys_of(options: Options, one: Variant, limits: Limits) -> tuple[Why, ...]:
    """What the limits say of the planned row when it is not done, and of the row that is."""
    moved = one.candidate.decision in (Decision.SWAPPED, Decision.LEFT_OUT)
    found = _blocking(options.planned.row, limits) if moved else ()
    if one.line is None or one.candidate.form is None:
        return found
    return found + _of_form(one.line.row, one.candidate.form, limits)


def _why(row: ExerciseRow, demand: str, rule: Rule, limits: Limits) -> Why:
    fact = limits[demand]
    return Why(row.id, demand, fact.level, rule, fact.because, fact.source_ids, fact.how)


def _sorted(whys: Sequence[Why]) -> tuple[Why, ...]:
    return tuple(sorted(whys, key=lambda why: (LEVEL_ORDER.index(why.level), why.demand)))


def _blocking(row: ExerciseRow, limits: Limits) -> tuple[Why, ...]:
    """Why the planned row is out: what cannot be taken out, or what its easier form would bring in."""
    avoided = {demand for demand, fact in limits.items() if fact.level is Level.AVOID}
    if stuck := avoided & row.demands - row.removable:
        return _sorted([_why(row, demand, Rule.INTRINSIC, limits) for demand in stuck])
    if not avoided & row.demands or not avoided & row.regression_adds:
        return ()
    return _sorted(
        [
            *(_why(row, demand, Rule.TAKEN_OUT, limits) for demand in avoided & row.demands - row.regression_adds),
            *(_why(row, demand, Rule.BROUGHT_IN, limits) for demand in avoided & row.regression_adds),
        ]
    )


def _of_form(row: ExerciseRow, form: Form, limits: Limits) -> tuple[Why, ...]:
    """What the limits say of the row that is done, and of the form it is done in."""
    whys = []
    for demand in (row.demands | form.demands) & limits.keys():
        if demand not in form.demands:
            rule = Rule.TAKEN_OUT
        elif limits[demand].level is Level.WATCH:
            rule = Rule.WATCHED
        else:
            rule = Rule.CHANGED_FORM if demand in row.demands else Rule.BROUGHT_IN
        whys.append(_why(row, demand, rule, limits))
    return _sorted(whys)


def words_of(form: Form, limits: Limits) -> str:
    """The changed form in words: the easier form, then how each demand left in it is adapted."""
    left = sorted(demand for demand in form.demands if demand in limits and limits[demand].level is Level.ADAPT)
    return "; ".join(dict.fromkeys([*filter(None, [form.words]), *(h for d in left if (h := limits[d].how))]))


def notes_of(
    options: Options, one: Variant, search: Search, *, before: Collection[str], has_room: bool
) -> tuple[str, ...]:
    """In words what else than a limit decided, and the waivers that are asked for.

    `before` are the exercises done earlier in the program; `has_room` whether the planned line would still fit the
    time.
    """
    if one.line is not None and not one.candidate.nearness:
        return tuple(_waivers(one.line.row, search))
    if options.is_out:
        found = _out(options, search)
        if one.line is not None:
            return (*found, *_waivers(one.line.row, search))
        none = "What could stand in is needed elsewhere or does not fit the time"
        return (*found, none if options.stand_ins else "Nothing else may stand in for it here")
    lacking = [group for group in options.own[0].needs if not set(group) & set(before)]
    if lacking:
        return tuple(f"Asks for {names_of(group[:-1], search)} first" for group in lacking)
    return ("It would break the order of its exercise",) if has_room else ("No time for it in this lesson",)


def _out(options: Options, search: Search) -> list[str]:
    line, given = options.planned, search.given
    row, found = line.row, list[str]()
    ceiling = given.ceilings.get(row.apparatus, row.level)
    if row.level > ceiling:
        found.append(f"Level {row.level}, cleared to level {ceiling} on the {row.apparatus.value}")
    if not search.has_springs(line):
        near = given.inventory is not None and given.inventory.count
        found.append("No springs of this machine come near enough" if near else "This machine has no springs")
    found += [words[0].upper() + words[1:] for words in unsafe_states(line, line.demands)]
    return found + [f"Asks for {names_of(group[:-1], search)} first" for group in options.missing]


def _waivers(row: ExerciseRow, search: Search) -> list[str]:
    return [
        f"A waiver is asked for: {names_of(group, search)} may not be done here"
        for group in open_groups(row, search.given)
        if search.is_deadlocked(group)
    ]


def names_of(group: Sequence[str], search: Search) -> str:
    """The exercises of a group in words."""
    repertoire = search.given.repertoire
    return " or ".join(repertoire[item].name if item in repertoire else item for item in group)


def blocks_most(options: Sequence[Options], avoided: frozenset[str]) -> tuple[tuple[str, int], ...]:
    """The demands to avoid that keep planned lines out, with how many each, the worst first."""
    counts: dict[str, int] = {}
    for one in options:
        if one.is_out:
            row = one.planned.row
            for demand in avoided & (row.demands - row.removable) or avoided & (row.demands | row.regression_adds):
                counts[demand] = counts.get(demand, 0) + 1
    return tuple(sorted(counts.items(), key=lambda item: (-item[1], item[0])))
