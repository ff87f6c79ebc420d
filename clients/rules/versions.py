"""Two versions of the clinical tables: read from uploaded files, edited row by row, and what differs between them."""

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Protocol

from clients.rules.limits import LimitFound
from clients.rules.outcomes import Outcome
from clients.rules.reference.faults import KEYS, Fault
from clients.rules.reference.rows import Demand
from clients.rules.reference.rulebook import CLINICAL_TABLES, Row, Tables

LARGEST_FILE = 1_000_000
MOST_ROWS = 5_000
LONGEST_CELL = 2_000
# The columns by which a person knows a row.
NAMED_BY = {
    "sources": "citation",
    "demands": "name",
    "conditions": "name",
    "symptoms": "short_name",
    "health_questions": "question",
    "red_flags": "question",
    "bp_gates": "action",
    "pregnancy_gates": "statement",
    "stop_signs": "statement",
    "source_disagreements": "point",
    "review_intervals": "trigger",
    "acsm_leaves": "bookable",
}
TABLE_NAMES = {
    "sources": "Sources",
    "demands": "Demands",
    "conditions": "Conditions",
    "limits": "Limits",
    "acsm_leaves": "Clearance table",
    "symptoms": "Signs",
    "health_questions": "Questions",
    "red_flags": "Red flags",
    "bp_gates": "Pressure and pulse",
    "pregnancy_gates": "Pregnancy",
    "stop_signs": "Stop signs",
    "source_disagreements": "Where sources differ",
    "review_intervals": "Asked again",
    "measures": "Measures",
    "measure_norms": "Published figures",
}
# The columns of each table in the order of its file; the database keeps none.
COLUMNS = {
    "sources": "id citation year kind how_checked url_or_doi",
    "demands": "code name definition tag_if not_if default_adapt",
    "conditions": (
        "id name phase_or_window window_days_from window_days_to window_basis next_condition_id sided "
        "clearance clearance_when source_ids strength note"
    ),
    "limits": "condition_id demand level how source_ids strength",
    "acsm_leaves": (
        "leaf regularly_active known_disease symptoms intensity clearance_needed clearance_max_age_months "
        "outcome bookable box source_ids"
    ),
    "symptoms": "id short_name question action source_ids",
    "health_questions": "id topic question why_we_ask answer_kind feeds source_ids",
    "red_flags": "id flag_group question needs_also route action source_ids",
    "bp_gates": (
        "id population sbp_op sbp dbp_op dbp hr_op hr joined extra_condition action outcome regime "
        "on_by_default source_ids"
    ),
    "pregnancy_gates": "id level list_origin statement from_gestation_day action outcome on_by_default source_ids",
    "stop_signs": "id statement action source_ids",
    "source_disagreements": "id point position_a sources_a position_b sources_b default_rule",
    "review_intervals": "item trigger visits days whichever_first effect source_ids",
    "measures": "measure unit higher_is_better min max decimals mdc mdc_note important_change protocol source_ids",
    "measure_norms": "measure sex age_from age_to statistic value source_ids how_checked",
}
KEY_JOINT = "~"


class ChangeKind(StrEnum):
    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"
    MOVED = "moved"


@dataclass(frozen=True)
class CellChange:
    """One column of a row that reads otherwise; an empty string is an empty cell."""

    column: str
    before: str
    after: str


@dataclass(frozen=True)
class RowChange:
    """A row that one version holds and the other does not, or holds otherwise.

    `key` is the row's own (parts joined by "~"), `name` what a person knows it by. `cells` hold, of a row added or
    removed, every filled column. A table whose rows stand in another order is one change, MOVED, without a key.
    """

    table: str
    kind: ChangeKind
    key: str
    name: str
    cells: tuple[CellChange, ...] = ()

    @property
    def table_name(self) -> str:
        return TABLE_NAMES[self.table]

    @property
    def shown_key(self) -> str:
        return self.key.replace(KEY_JOINT, ", ")


class Seen(Protocol):
    """An outcome and the limits found with it."""

    @property
    def outcome(self) -> Outcome: ...

    @property
    def limits(self) -> tuple[LimitFound, ...]: ...


@dataclass(frozen=True)
class LimitChange:
    """A demand whose limit differs on a side; a level is empty where there is no limit."""

    demand: str
    name: str
    side: str
    before: str
    after: str
    how_before: str
    how_after: str


@dataclass(frozen=True)
class Comparison:
    """What two screenings of the same person say differently."""

    before: Outcome
    after: Outcome
    limits: tuple[LimitChange, ...]

    @property
    def is_same(self) -> bool:
        return self.before is self.after and not self.limits

    @property
    def move(self) -> str:
        """The outcomes as "clear>refer"; the same twice when only limits differ."""
        return f"{self.before.value}>{self.after.value}"


def columns_of(table: str) -> tuple[str, ...]:
    """The columns of a table in the order of its file."""
    return tuple(COLUMNS[table].split())


def key_of(table: str, row: Row) -> str:
    """The key of a row in its table, its parts joined by "~"."""
    return KEY_JOINT.join(row[column] for column in KEYS[table])


def row_at(tables: Tables, table: str, key: str) -> Row | None:
    """The row with this key; None when the table or the row is not there."""
    if table not in KEYS:
        return None
    return next((row for row in tables[table] if key_of(table, row) == key), None)


def with_row(tables: Tables, table: str, key: str, values: Mapping[str, str]) -> dict[str, list[Row]]:
    """The tables with `values` in the row of this key. Key columns and unknown columns are left as they are."""
    kept = set(KEYS[table])

    def changed(row: Row) -> Row:
        if key_of(table, row) != key:
            return row
        return {column: cell if column in kept else values.get(column, cell) for column, cell in row.items()}

    return {name: [changed(row) if name == table else row for row in rows] for name, rows in tables.items()}


def as_file(name: str, rows: Iterable[Row]) -> str:
    """A table as CSV text, with a header."""
    out = io.StringIO()
    writer = csv.DictWriter(out, columns_of(name), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def table_from(name: str, content: bytes) -> tuple[list[dict[str, str]], list[Fault]]:
    """The rows of an uploaded CSV table, or what is wrong with the file by line; never both.

    Its columns may stand in whatever order.
    """
    if len(content) > LARGEST_FILE:
        return [], [Fault(name, 0, "the file is larger than 1 MB")]
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return [], [Fault(name, 0, f"not UTF-8 text ({error.reason})")]
    if "\x00" in text:
        return [], [Fault(name, 0, "not a text file")]
    try:
        lines = _lines(text)
    except csv.Error as error:
        return [], [Fault(name, 0, f"not a CSV table ({error})")]
    return _rows(name, lines, columns_of(name))


def _lines(text: str) -> list[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    return [(reader.line_num, cells) for cells in reader if cells]


def _rows(
    name: str, lines: list[tuple[int, list[str]]], columns: Sequence[str]
) -> tuple[list[dict[str, str]], list[Fault]]:
    if not lines:
        return [], [Fault(name, 0, "the file is empty")]
    header = lines[0][1]
    if sorted(header) != sorted(columns):
        return [], [Fault(name, 1, f"the columns are not {', '.join(columns)}")]
    if len(lines) - 1 > MOST_ROWS:
        return [], [Fault(name, 0, f"more than {MOST_ROWS} rows")]
    found = list(_row_faults(name, header, lines[1:]))
    if found:
        return [], found
    return [dict(zip(header, cells, strict=True)) for _, cells in lines[1:]], []


def _row_faults(name: str, header: list[str], lines: list[tuple[int, list[str]]]) -> Iterator[Fault]:
    for line, cells in lines:
        if len(cells) != len(header):
            yield Fault(name, line, f"{len(cells)} columns where the header has {len(header)}")
        elif any(len(cell) > LONGEST_CELL for cell in cells):
            yield Fault(name, line, f"a cell of more than {LONGEST_CELL} characters")


def differences(before: Tables, after: Tables) -> tuple[RowChange, ...]:
    """Every row that was added, removed or changed, table by table in their order, column by column."""
    found = (change for name in CLINICAL_TABLES for change in _table_changes(name, before[name], after[name]))
    names = _limit_names(before) | _limit_names(after)
    return tuple(replace(one, name=names[one.key]) if one.key in names else one for one in found)


def _limit_names(tables: Tables) -> dict[str, str]:
    """The limits by key, each called by its condition and its demand."""
    conditions = {row["id"]: row["name"] for row in tables["conditions"]}
    demands = {row["code"]: row["name"] for row in tables["demands"]}
    return {
        key_of("limits", row): f"{conditions[row['condition_id']]}: {demands[row['demand']]}"
        for row in tables["limits"]
    }


def _table_changes(name: str, before: Sequence[Row], after: Sequence[Row]) -> Iterator[RowChange]:
    if list(before) == list(after):
        return
    then, now = ({key_of(name, row): row for row in rows} for rows in (before, after))
    for key, row in then.items():
        if key not in now:
            yield _change(name, ChangeKind.REMOVED, key, row, {})
    for key, row in now.items():
        if key not in then:
            yield _change(name, ChangeKind.ADDED, key, {}, row)
        elif dict(row) != dict(then[key]):
            yield _change(name, ChangeKind.CHANGED, key, then[key], row)
    if [key for key in then if key in now] != [key for key in now if key in then]:
        yield RowChange(name, ChangeKind.MOVED, "", "its rows stand in another order")


def _change(table: str, kind: ChangeKind, key: str, before: Row, after: Row) -> RowChange:
    row = after or before
    cells = tuple(
        CellChange(column, before.get(column, ""), after.get(column, ""))
        for column in columns_of(table)
        if before.get(column, "") != after.get(column, "")
    )
    return RowChange(table, kind, key, row.get(NAMED_BY.get(table, ""), ""), cells)


def compared(before: Seen, after: Seen, demands: Mapping[str, Demand]) -> Comparison:
    """What differs between two screenings: the outcome, and each limit by demand and side, named from `demands`."""
    then, now = ({(one.demand, one.side.value): one for one in found.limits} for found in (before, after))
    changes = []
    for demand, side in sorted({*then, *now}):
        was, becomes = then.get((demand, side)), now.get((demand, side))
        change = LimitChange(
            demand=demand,
            name=demands[demand].name if demand in demands else demand,
            side=side,
            before=was.level.value if was else "",
            after=becomes.level.value if becomes else "",
            how_before=was.how if was else "",
            how_after=becomes.how if becomes else "",
        )
        if (change.before, change.how_before) != (change.after, change.how_after):
            changes.append(change)
    return Comparison(before.outcome, after.outcome, tuple(changes))
