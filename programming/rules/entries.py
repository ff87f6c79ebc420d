"""Changing the repertoire: a row or a ladder's step with its changed columns, and what the change would break."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from programming.rules import columns
from programming.rules.reference.faults import Row, Tables, split
from programming.rules.reference.practice import BASIS_FACTOR
from programming.rules.repertoire import faults
from studio.rules import Reason

LONGEST = 300


class About(StrEnum):
    """What is changed: a row of the repertoire, or a step of a ladder."""

    EXERCISE = "exercise"
    STEP = "step"

    @property
    def table(self) -> str:
        return "repertoire" if self is About.EXERCISE else "ladders"

    @property
    def key(self) -> str:
        return "id" if self is About.EXERCISE else "code"

    @property
    def labels(self) -> Mapping[str, str]:
        return columns.ROW_LABELS if self is About.EXERCISE else columns.STEP_LABELS

    def columns(self, *, is_new: bool) -> tuple[str, ...]:
        if self is About.EXERCISE:
            return columns.NEW_ROW_COLUMNS if is_new else columns.ROW_COLUMNS
        return columns.NEW_STEP_COLUMNS if is_new else columns.STEP_COLUMNS


@dataclass(frozen=True)
class Difference:
    """One column that differs."""

    column: str
    before: str
    after: str


@dataclass(frozen=True)
class Broken:
    """A fault that a change would bring in: on which row or step, of which table, and why."""

    table: str
    key: str
    reason: str


def changed(about: About, row: Row, wanted: Mapping[str, str]) -> dict[str, str]:
    """The columns of `wanted` that differ from the row, trimmed.

    Raises TypeError for a column that is not the studio's to change.
    """
    if foreign := set(wanted) - set(about.columns(is_new=not row)):
        raise TypeError(f"not the studio's to change: {', '.join(sorted(foreign))}")
    tidy = {name: " ".join(value.split()) for name, value in wanted.items()}
    return {name: value for name, value in tidy.items() if row.get(name, "") != value}


def with_changes(about: About, row: Row, wanted: Mapping[str, str]) -> dict[str, str]:
    """The row with its changed columns, and with those that follow from them."""
    made = {**row, **wanted}
    if about is About.EXERCISE:
        made["side_factor"] = BASIS_FACTOR.get(made["reps_basis"], made.get("side_factor", "1"))
    return made


def blank(about: About, key: str) -> dict[str, str]:
    """A row or step with every column, all empty but its key."""
    names = about.columns(is_new=True)
    own = (*columns.DERIVED, *columns.NEVER_OWN) if about is About.EXERCISE else ()
    return {about.key: key} | dict.fromkeys((*names, *own), "")


def next_key(about: About, row: Row, steps: Sequence[Row], taken: Collection[str]) -> str:
    """A key of our own that nothing has or had: `R-OWN1` for a row of the reformer, `FW-OWN1` for a step."""
    if about is About.EXERCISE:
        stem = columns.PREFIXES.get(row.get("apparatus", ""), "X")
    else:
        codes = (step["code"] for step in steps if step["ladder"] == row.get("ladder"))
        stem = next(codes, "X").partition("-")[0]
    return next(key for n in range(1, len(taken) + 2) if (key := f"{stem}-OWN{n}") not in taken)


def placed(row: Row, rows: Iterable[Row]) -> dict[str, str]:
    """A new row with its place in the order and in its series where none was given: behind those that are there."""
    same = [other for other in rows if other["apparatus"] == row["apparatus"]]
    series = [other for other in same if other["series"] == row["series"]]
    return {
        **row,
        "order_in_apparatus": row["order_in_apparatus"] or _after(same, "order_in_apparatus"),
        "position_in_series": row["position_in_series"] or _after(series, "position_in_series"),
    }


def _after(rows: Iterable[Row], column: str) -> str:
    return str(max((int(row[column]) for row in rows), default=0) + 1)


def differences(about: About, before: Row, after: Row) -> tuple[Difference, ...]:
    """Columns that differ, in the order of the screens; keys and what is derived are left out."""
    return tuple(
        Difference(name, before.get(name, ""), after.get(name, ""))
        for name in about.labels
        if name not in columns.DERIVED and before.get(name, "") != after.get(name, "")
    )


def in_use(rows: Iterable[Row], steps: Iterable[Row]) -> dict[str, list[Row]]:
    """The two tables as the checks read them: a step belongs only to rows in use, one without any is left out."""
    kept = list(rows)
    ids = {row["id"] for row in kept}
    found: list[Row] = []
    for step in steps:
        targets = [key for key in split(step["repertoire_ids"]) if key in ids]
        if targets:
            found.append({**step, "repertoire_ids": ";".join(targets)})
    return {"repertoire": kept, "ladders": found}


def breaks(before: Tables, after: Tables) -> list[Broken]:
    """Faults of the changed tables that were not there before, by row and not by line."""
    there = set(_by_row(before))
    return [one for one in _by_row(after) if one not in there]


def _by_row(tables: Tables) -> list[Broken]:
    return [Broken(one.table, _key(one.table, one.line, tables), one.reason) for one in faults(tables)]


def _key(table: str, line: int, tables: Tables) -> str:
    rows = tables.get(table, ())
    row: Row = rows[line - 2] if 0 <= line - 2 < len(rows) else {}
    return next((row[name] for name in ("id", "code", "pool", "ladder") if row.get(name)), "")


def reasons(found: Iterable[Broken], about: About, key: str, names: Mapping[str, str]) -> list[Reason]:
    """Broken rows in words, each beside the field it is about when it is on the changed row itself.

    `names` are names by exercise id and demand code.
    """
    said = []
    for one in found:
        trail = _trail(one.reason)
        own = (one.table, one.key) == (about.table, key) or key in trail
        subject = names.get(one.key, one.key)
        words = _words(one.reason, about.labels, names) if own else f"{subject} {_leans(one.reason, about, names)}"
        if key in trail:
            words = f"what is learned before it would lead in a circle: {_circle(trail, key, names)}"
        said.append(Reason("broken_row", f"{words[:1].upper()}{words[1:]}.", _field(one.reason, about) if own else ""))
    return said


def length_reasons(wanted: Mapping[str, str]) -> list[Reason]:
    allowed = f"at most {LONGEST} characters"
    return [
        Reason("too_long", "That is too long.", field=name, allowed=allowed)
        for name, value in wanted.items()
        if len(value) > LONGEST
    ]


def setup_reasons(row: Row, others: Iterable[Row]) -> list[Reason]:
    """The set-up is read by rule V7 and by the time model: only keys the apparatus knows, and words the rules know.

    A wrong word would let a loaded neck lie on a raised headrest, so it is refused rather than guessed.
    """
    known = setup_words(row["apparatus"], others)
    strange = [part for part in split(row["equipment_setup"]) if not _is_known(part, known)]
    if not strange:
        return []
    allowed = "; ".join(f"{key}={' or '.join(values)}" if values[0] else key for key, values in known.items())
    says = f"Not known for this apparatus: {', '.join(strange)}."
    return [Reason("unknown_setup", says, "equipment_setup", f"for this apparatus: {allowed}")]


def setup_words(apparatus: str, rows: Iterable[Row]) -> dict[str, tuple[str, ...]]:
    """The keys and their words that rows of this apparatus use; a bare word has one empty value."""
    known: dict[str, dict[str, None]] = {}
    for row in rows:
        if row["apparatus"] == apparatus:
            for part in split(row["equipment_setup"]):
                key, _, value = part.partition("=")
                known.setdefault(key, {})[value] = None
    return {key: tuple(values) for key, values in known.items()}


# Keys whose words decide what is set before a row (rule V7): a new word there would be read as "not set".
STRICT = frozenset({"footbar", "headrest", "box", "bar", "safety_strap"})


def _is_known(part: str, known: Mapping[str, tuple[str, ...]]) -> bool:
    key, _, value = part.partition("=")
    return not known or (key in known and (key not in STRICT or value in known[key]))


FIELDS = (
    ("repetitions", "reps_high"),
    ("springs", "springs_usual"),
    ("the repetition pool", "rep_pool"),
    ("prerequisite circle", "prerequisite_ids"),
    ("unknown prerequisite", "prerequisite_ids"),
    ("stretch_end", "stretch_joint"),
    ("a demand", "demands"),
    ("a lying row", "demands"),
    ("removable", "demands"),
    ("removes", "removes"),
)


def _field(reason: str, about: About) -> str:
    """The column a fault is about, from how its reason begins or ends."""
    told = (reason.partition(" ")[0], *(column for start, column in FIELDS if reason.startswith(start)))
    told = (*told, reason.rpartition(" in ")[2])
    return next((column for column in told if column in about.labels), "")


SAID = {
    "repetitions low > high": "the fewest repetitions are more than the most",
    "springs are given in part": "fewest, usual and most springs go together: give all three or none",
    "springs not min <= usual <= max": "the usual springs lie between the fewest and the most",
    "the repetition pool is given in part": "a pool needs its name, its total, the part played in it and the fewest",
    "stretch_end and stretch_joint must come together": "a strong stretch at end range and its joints go together",
    "a lying row with inversion lacks hips_high": "lying with inversion and weight on the neck asks for hips high too",
}


def _trail(reason: str) -> list[str]:
    """The rows of a circle of prerequisites, the first again at the end; empty for any other fault."""
    start, _, trail = reason.partition(": ")
    return trail.split(" > ") if start == "prerequisite circle" else []


def _circle(trail: list[str], key: str, names: Mapping[str, str]) -> str:
    at = trail.index(key)
    return ", then ".join(names.get(one, one) for one in [*trail[at:-1], *trail[:at], key])


def _leans(reason: str, about: About, names: Mapping[str, str]) -> str:
    """How another row leans on what would be changed or go out of use."""
    key = reason.partition("'")[2].partition("'")[0]
    if reason.startswith("unknown prerequisite"):
        return f"asks for {names.get(key, key)} first"
    if reason.endswith("in substitutes_row"):
        return f"becomes {names.get(key, key)}"
    return f"would not hold together: {_words(reason, about.labels, names)}"


def _words(reason: str, labels: Mapping[str, str], names: Mapping[str, str]) -> str:
    """A fault as people read it: names in place of keys, labels in place of columns."""
    if reason in SAID:
        return SAID[reason]
    told = [names.get(word.strip("'"), labels.get(word, word)) for word in reason.split(" ")]
    return " ".join(told)
