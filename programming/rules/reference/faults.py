"""Faults of reference tables: the shape of each column first, then what rows must say of one another."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

Row = Mapping[str, str]
Tables = Mapping[str, Sequence[Row]]
# A shape reads one value and says what is wrong with it, or nothing.
Shape = Callable[[str], str]


@dataclass(frozen=True, order=True)
class Fault:
    """Something a loader must refuse: the table (file name without ending), the line in the file, the reason."""

    table: str
    line: int
    reason: str


@dataclass(frozen=True)
class Line:
    """One row together with the place it was read from; line 1 is the header."""

    table: str
    number: int
    row: Row

    def __getitem__(self, column: str) -> str:
        return self.row[column]

    def items(self, column: str) -> tuple[str, ...]:
        return split(self.row[column])

    def fault(self, reason: str) -> Fault:
        return Fault(self.table, self.number, reason)


def split(value: str) -> tuple[str, ...]:
    """The parts of a `;` list, empty ones dropped."""
    return tuple(part.strip() for part in value.split(";") if part.strip())


def lines(tables: Tables, name: str) -> list[Line]:
    return [Line(name, number, row) for number, row in enumerate(tables.get(name, ()), 2)]


def anything(_value: str) -> str:
    return ""


def text(value: str) -> str:
    return "" if value else "is empty"


def whole(low: int, high: int | None = None) -> Shape:
    def shape(value: str) -> str:
        if not value.isascii() or not value.isdigit():
            return f"is not a whole number: {value!r}"
        if int(value) < low or (high is not None and int(value) > high):
            return f"is out of range: {value}"
        return ""

    return shape


def decimal(low: float | None = None, *, above: float | None = None) -> Shape:
    def shape(value: str) -> str:
        try:
            figure = float(value)
        except ValueError:
            return f"is not a number: {value!r}"
        if figure != figure or abs(figure) == float("inf"):
            return f"is not a number: {value!r}"
        if (low is not None and figure < low) or (above is not None and figure <= above):
            return f"is out of range: {value}"
        return ""

    return shape


def one_of(*words: str) -> Shape:
    def shape(value: str) -> str:
        return "" if value in words else f"is unknown: {value!r}"

    return shape


def maybe(shape: Shape) -> Shape:
    """The same shape, or nothing at all."""

    def shape_or_empty(value: str) -> str:
        return shape(value) if value else ""

    return shape_or_empty


def whole_list(low: int) -> Shape:
    single = whole(low)

    def shape(value: str) -> str:
        complaints = [single(part) for part in split(value)]
        return next((complaint for complaint in complaints if complaint), "") if complaints else "is empty"

    return shape


def shape_faults(tables: Tables, name: str, shapes: Mapping[str, Shape]) -> Iterator[Fault]:
    """Missing table, missing column, stray space, and each value against the shape of its column."""
    found = lines(tables, name)
    if not found:
        yield Fault(name, 1, "the table is missing or has no rows")
        return
    missing = [column for column in shapes if column not in found[0].row]
    if missing:
        yield Fault(name, 1, f"column missing: {', '.join(missing)}")
        return
    for line in found:
        yield from _value_faults(line, shapes)


def _value_faults(line: Line, shapes: Mapping[str, Shape]) -> Iterator[Fault]:
    for column, value in line.row.items():
        if value != value.strip():
            yield line.fault(f"stray space in {column}")
    for column, shape in shapes.items():
        if complaint := shape(line[column]):
            yield line.fault(f"{column} {complaint}")


def key_faults(tables: Tables, name: str, columns: Sequence[str]) -> Iterator[Fault]:
    """A second row with the same key."""
    seen: dict[tuple[str, ...], int] = {}
    for line in lines(tables, name):
        key = tuple(line[column] for column in columns)
        if key in seen:
            yield line.fault(f"{' '.join(key)} is already on line {seen[key]}")
        seen.setdefault(key, line.number)


def unknown_faults(line: Line, column: str, known: frozenset[str], noun: str) -> Iterator[Fault]:
    for item in line.items(column):
        if item not in known:
            yield line.fault(f"unknown {noun} {item!r} in {column}")


def source_faults(tables: Tables, name: str) -> Iterator[Fault]:
    """A row that names no source, or one that the table of sources does not hold."""
    known = column_values(tables, "sources", "id")
    for line in lines(tables, name):
        if not line.items("source_ids"):
            yield line.fault("no source given")
        yield from unknown_faults(line, "source_ids", known, "source")


def column_values(tables: Tables, name: str, column: str) -> frozenset[str]:
    return frozenset(row.get(column, "") for row in tables.get(name, ()))
