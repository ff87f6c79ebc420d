"""What is wrong with a set of clinical tables, line by line, before anything is parsed or stored."""

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from clients.rules.reference import rows
from clients.rules.reference.rows import items
from clients.rules.reference.rulebook import CLINICAL_TABLES, Row, Tables

OPERATORS = frozenset({"ge", "gt", "lt", "drop_ge"})
GATE_OUTCOMES = frozenset({"postpone", "refer", "advise", "emergency"})
LEAF_OUTCOMES = frozenset({"refer", "clear_limited", "clear"})
PREGNANCY_OUTCOMES = {"absolute": "refer", "relative": "refer", "stop_sign": "stop"}
EXTRA_CONDITIONS = frozenset(
    {
        "",
        "still so on the repeat reading",
        "untreated",
        "confirmed",
        "no other symptom",
        "with confusion, chest pain, breathlessness or change of sight",
        "systolic drop on standing, or faintness with low pressure",
        "after 5 minutes of rest",
        "with symptoms",
        "new irregular pulse",
        "fever or acute general illness",
    }
)
FLAG_NEEDS = frozenset(
    {
        "",
        "back or leg pain; new within 14 days or getting worse",
        "neck pain",
        "new spine pain",
        "known osteoporosis",
        "new spine pain; much stronger with another fracture item",
        "new pain",
        "spine pain",
    }
)
HIGHEST_DIASTOLIC_LINE = 110
KEYS = {
    "sources": ("id",),
    "demands": ("code",),
    "conditions": ("id",),
    "limits": ("condition_id", "demand"),
    "acsm_leaves": ("leaf",),
    "symptoms": ("id",),
    "health_questions": ("id",),
    "red_flags": ("id",),
    "bp_gates": ("id",),
    "pregnancy_gates": ("id",),
    "stop_signs": ("id",),
    "source_disagreements": ("id",),
    "review_intervals": ("item",),
    "measures": ("measure",),
    "measure_norms": ("measure", "sex", "age_from", "age_to", "statistic"),
}
NUMBERS = {
    "conditions": ("window_days_from", "window_days_to"),
    "acsm_leaves": ("clearance_max_age_months",),
    "bp_gates": ("sbp", "dbp", "hr"),
    "pregnancy_gates": ("from_gestation_day",),
    "review_intervals": ("visits", "days"),
    "measure_norms": ("age_from", "age_to"),
}


@dataclass(frozen=True)
class Fault:
    """One thing wrong: `line` counts as in the file, where line 1 is the header; 0 means the table as a whole."""

    table: str
    line: int
    reason: str


def faults(tables: Tables) -> list[Fault]:
    """Everything wrong with the clinical tables; an empty list means that a rule book can be made of them."""
    missing = [Fault(name, 0, "the table is missing or empty") for name in CLINICAL_TABLES if not tables.get(name)]
    if missing:
        return missing
    found = [*_shape_faults(tables), *_source_faults(tables)]
    for name, check in ROW_CHECKS.items():
        for line, row in enumerate(tables[name], 2):
            found += [Fault(name, line, reason) for reason in check(row)]
    for whole_check in (_condition_links, _limit_links, _leaf_faults, _sign_faults, _norm_links):
        found += whole_check(tables)
    return sorted(found, key=lambda fault: (CLINICAL_TABLES.index(fault.table), fault.line))


def _shape_faults(tables: Tables) -> Iterator[Fault]:
    for name, key in KEYS.items():
        seen: set[tuple[str, ...]] = set()
        for line, row in enumerate(tables[name], 2):
            for column, value in row.items():
                if value != value.strip():
                    yield Fault(name, line, f"stray space in {column}")
            for column in NUMBERS.get(name, ()):
                if row[column] and not _is_count(row[column]):
                    yield Fault(name, line, f"{column} is not a whole number: {row[column]!r}")
            identity = tuple(row[column] for column in key)
            if identity in seen:
                yield Fault(name, line, f"duplicate {' '.join(identity)}")
            if not identity[0]:
                yield Fault(name, line, f"no {key[0]}")
            seen.add(identity)


def _source_faults(tables: Tables) -> Iterator[Fault]:
    known = {row["id"] for row in tables["sources"]}
    for name in CLINICAL_TABLES:
        for line, row in enumerate(tables[name], 2):
            for column in ("source_ids", "sources_a", "sources_b"):
                if column not in row:
                    continue
                if not row[column]:
                    yield Fault(name, line, f"no {column}")
                for item in items(row[column]):
                    if item not in known:
                        yield Fault(name, line, f"unknown source {item!r} in {column}")


def _one_of(row: Row, column: str, allowed: Iterable[str]) -> Iterator[str]:
    if row[column] not in set(allowed):
        yield f"{column} {row[column]!r} is not known"


def _of_condition(row: Row) -> Iterator[str]:
    yield from _one_of(row, "clearance", rows.Clearance)
    yield from _one_of(row, "strength", rows.Strength)
    yield from _one_of(row, "sided", "yn")
    yield from _one_of(row, "window_basis", rows.Basis)
    if row["clearance"] != "none" and not row["clearance_when"]:
        yield "clearance without clearance_when"
    start, end = row["window_days_from"], row["window_days_to"]
    if _is_count(start) and _is_count(end) and int(start) > int(end):
        yield "the window runs backwards"
    if (start or end) and row["window_basis"] == "none":
        yield "a window without a window_basis"


def _of_limit(row: Row) -> Iterator[str]:
    yield from _one_of(row, "level", rows.Level)
    yield from _one_of(row, "strength", rows.Strength)
    if row["level"] == "adapt" and not row["how"]:
        yield "adapt without how"


def _of_leaf(row: Row) -> Iterator[str]:
    for column in ("regularly_active", "known_disease", "symptoms"):
        yield from _one_of(row, column, "yn")
    yield from _one_of(row, "intensity", rows.Intensity)
    yield from _one_of(row, "outcome", LEAF_OUTCOMES)
    if not _is_count(row["leaf"]):
        yield f"leaf is not a whole number: {row['leaf']!r}"


def _of_gate(row: Row) -> Iterator[str]:
    yield from _one_of(row, "population", ("adult", "pregnant"))
    yield from _one_of(row, "joined", ("or",))
    yield from _one_of(row, "outcome", GATE_OUTCOMES)
    yield from _one_of(row, "regime", ("uk", "us", "au", "all"))
    yield from _one_of(row, "on_by_default", "yn")
    yield from _one_of(row, "extra_condition", EXTRA_CONDITIONS)
    for line in ("sbp", "dbp", "hr"):
        if bool(row[line]) != bool(row[f"{line}_op"]):
            yield f"{line} and {line}_op must come together"
        if row[f"{line}_op"]:
            yield from _one_of(row, f"{line}_op", OPERATORS)
    if row["regime"] in ("uk", "us") and _is_count(row["dbp"]) and int(row["dbp"]) > HIGHEST_DIASTOLIC_LINE:
        yield f"a diastolic line above {HIGHEST_DIASTOLIC_LINE} is never allowed"


def _of_pregnancy_gate(row: Row) -> Iterator[str]:
    yield from _one_of(row, "level", PREGNANCY_OUTCOMES)
    yield from _one_of(row, "on_by_default", "yn")
    if PREGNANCY_OUTCOMES.get(row["level"], row["outcome"]) != row["outcome"]:
        yield f"outcome {row['outcome']!r} does not fit the level"


def _of_flag(row: Row) -> Iterator[str]:
    yield from _one_of(row, "route", rows.FlagRoute)
    yield from _one_of(row, "needs_also", FLAG_NEEDS)


def _of_interval(row: Row) -> Iterator[str]:
    yield from _one_of(row, "whichever_first", ("y", ""))
    if not row["visits"] and not row["days"]:
        yield "due neither by visits nor by days"


def _of_measure(row: Row) -> Iterator[str]:
    yield from _one_of(row, "higher_is_better", ("y", "n", ""))
    numbers = {column: _number(row[column]) for column in ("min", "max", "mdc")}
    for column, value in numbers.items():
        if row[column] and value is None:
            yield f"{column} is not a number: {row[column]!r}"
    if not _is_count(row["decimals"]):
        yield f"decimals is not a whole number: {row['decimals']!r}"
    if numbers["min"] is not None and numbers["max"] is not None and numbers["min"] >= numbers["max"]:
        yield "min is not below max"


def _of_norm(row: Row) -> Iterator[str]:
    yield from _one_of(row, "sex", ("male", "female", "all"))
    yield from _one_of(row, "how_checked", ("read", "secondary", "memory"))
    if _number(row["value"]) is None:
        yield f"value is not a number: {row['value']!r}"
    if _is_count(row["age_from"]) and _is_count(row["age_to"]) and int(row["age_from"]) > int(row["age_to"]):
        yield "age_from is above age_to"


def _of_source(row: Row) -> Iterator[str]:
    yield from _one_of(row, "how_checked", ("read", "secondary", "memory"))


ROW_CHECKS: Mapping[str, Callable[[Row], Iterator[str]]] = {
    "sources": _of_source,
    "conditions": _of_condition,
    "limits": _of_limit,
    "acsm_leaves": _of_leaf,
    "bp_gates": _of_gate,
    "pregnancy_gates": _of_pregnancy_gate,
    "red_flags": _of_flag,
    "review_intervals": _of_interval,
    "measures": _of_measure,
    "measure_norms": _of_norm,
}


def _condition_links(tables: Tables) -> Iterator[Fault]:
    by_id = {row["id"]: row for row in tables["conditions"]}
    for line, row in enumerate(tables["conditions"], 2):
        if not row["next_condition_id"]:
            continue
        follower = by_id.get(row["next_condition_id"])
        if follower is None:
            yield Fault("conditions", line, f"unknown next_condition_id {row['next_condition_id']!r}")
        elif _leaves_a_gap(row, follower):
            yield Fault("conditions", line, "a gap or an overlap before the next condition")
        if _runs_in_a_circle(row["id"], by_id):
            yield Fault("conditions", line, "the next conditions run in a circle")


def _leaves_a_gap(row: Row, follower: Row) -> bool:
    end, start = row["window_days_to"], follower["window_days_from"]
    is_counted = row["window_basis"] == follower["window_basis"] and _is_count(end) and _is_count(start)
    return is_counted and int(start) != int(end) + 1


def _runs_in_a_circle(start: str, by_id: Mapping[str, Row]) -> bool:
    seen: set[str] = set()
    while start in by_id and start not in seen:
        seen.add(start)
        start = by_id[start]["next_condition_id"]
    return start in seen


def _limit_links(tables: Tables) -> Iterator[Fault]:
    conditions = [row["id"] for row in tables["conditions"]]
    demands = {row["code"] for row in tables["demands"]}
    for line, row in enumerate(tables["limits"], 2):
        if row["condition_id"] not in conditions:
            yield Fault("limits", line, f"unknown condition {row['condition_id']!r}")
        if row["demand"] not in demands:
            yield Fault("limits", line, f"unknown demand {row['demand']!r}")
    limited = {row["condition_id"] for row in tables["limits"]}
    for line, condition_id in enumerate(conditions, 2):
        if condition_id not in limited:
            yield Fault("conditions", line, f"condition {condition_id} has no limit")


def _leaf_faults(tables: Tables) -> Iterator[Fault]:
    columns = ("regularly_active", "known_disease", "symptoms", "intensity")
    held = {tuple(row[column] for column in columns) for row in tables["acsm_leaves"]}
    wanted = set(itertools.product("yn", "yn", "yn", list(rows.Intensity)))
    if held != wanted or len(tables["acsm_leaves"]) != len(wanted):
        yield Fault("acsm_leaves", 0, "the 16 leaves are not all there, each once")


def _sign_faults(tables: Tables) -> Iterator[Fault]:
    if len(tables["symptoms"]) != 9:
        yield Fault("symptoms", 0, "nine symptoms expected")


def _norm_links(tables: Tables) -> Iterator[Fault]:
    measures = {row["measure"] for row in tables["measures"]}
    for line, row in enumerate(tables["measure_norms"], 2):
        if row["measure"] not in measures:
            yield Fault("measure_norms", line, f"unknown measure {row['measure']!r}")


def _is_count(cell: str) -> bool:
    return cell.isascii() and cell.isdigit() and len(cell) < 10


def _number(cell: str) -> float | None:
    try:
        return float(cell)
    except ValueError:
        return None
