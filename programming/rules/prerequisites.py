"""What is learned before an exercise and what it leads to: the lists, and a small drawing of both."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from programming.rules.repertoire import ExerciseRow

# The drawing, in its own units: a box, the room between columns and between rows.
BOX_WIDTH, BOX_HEIGHT, GAP, ROW_GAP = 176, 46, 44, 12
LINE_LETTERS, LINES = 23, 2


@dataclass(frozen=True)
class Before:
    """One condition: any of its rows is enough."""

    rows: tuple[ExerciseRow, ...]


@dataclass(frozen=True)
class After:
    """A row that asks for this one; `others` are those that would do in its place."""

    row: ExerciseRow
    others: tuple[ExerciseRow, ...]


@dataclass(frozen=True)
class Node:
    id: str
    name: str
    lines: tuple[str, ...]
    level: int
    x: int
    y: int
    is_self: bool

    @property
    def text_x(self) -> int:
        return self.x + 10

    @property
    def text_ys(self) -> tuple[tuple[int, str], ...]:
        """Each line of the name with its height, centred in the box."""
        top = self.y + (20 if len(self.lines) > 1 else 28)
        return tuple((top + 17 * n, line) for n, line in enumerate(self.lines))


@dataclass(frozen=True)
class Edge:
    """From the row that is learned first; `is_one_of` where another row would do as well."""

    path: str
    is_one_of: bool


@dataclass(frozen=True)
class Drawing:
    width: int
    height: int
    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]
    box_width: int = BOX_WIDTH
    box_height: int = BOX_HEIGHT

    @property
    def has_one_of(self) -> bool:
        return any(edge.is_one_of for edge in self.edges)


@dataclass(frozen=True)
class Surroundings:
    """`further` are the rows learned before those that come directly before, foundations first."""

    before: tuple[Before, ...]
    after: tuple[After, ...]
    further: tuple[ExerciseRow, ...]
    drawing: Drawing | None


def around(exercise_id: str, repertoire: Mapping[str, ExerciseRow]) -> Surroundings:
    """Both ways from one exercise. Rows that are not in the repertoire any more are passed over.

    The drawing has two steps back and one ahead; it is None where nothing comes before or after.
    """
    row = repertoire[exercise_id]
    before = tuple(Before(tuple(_known(group, repertoire))) for group in row.prerequisites)
    before = tuple(one for one in before if one.rows)
    after = tuple(
        After(other, tuple(one for one in _known(group, repertoire) if one.id != exercise_id))
        for other in repertoire.values()
        for group in other.prerequisites
        if exercise_id in group
    )
    direct = {one.id for group in before for one in group.rows}
    further = tuple(one for one in _ahead(row, repertoire) if one.id not in direct)
    return Surroundings(before, after, further, _drawing(row, repertoire, after) if before or after else None)


def _known(keys: Iterable[str], repertoire: Mapping[str, ExerciseRow]) -> list[ExerciseRow]:
    return [repertoire[key] for key in keys if key in repertoire]


def _parents(row: ExerciseRow, repertoire: Mapping[str, ExerciseRow]) -> list[ExerciseRow]:
    return list({one.id: one for group in row.prerequisites for one in _known(group, repertoire)}.values())


def _ahead(row: ExerciseRow, repertoire: Mapping[str, ExerciseRow]) -> list[ExerciseRow]:
    """Everything that is learned before a row, lowest level first."""
    seen: dict[str, ExerciseRow] = {}
    waiting = _parents(row, repertoire)
    while waiting:
        one = waiting.pop()
        if one.id not in seen and one.id != row.id:
            seen[one.id] = one
            waiting.extend(_parents(one, repertoire))
    return sorted(seen.values(), key=lambda one: (one.level, one.apparatus.value, one.order_in_apparatus, one.id))


def _drawing(row: ExerciseRow, repertoire: Mapping[str, ExerciseRow], after: Sequence[After]) -> Drawing:
    far, near, ahead = _sides(row, repertoire, after)
    over = sum(row_before.id in {one.id for one in _parents(row, repertoire)} for row_before in far)
    height = max(len(far), over + len(near), 1, len(ahead))
    # What leads past the near column has its rows to itself: the near ones begin below.
    columns = [(far, None), (near, over or None), ([row], None), (ahead, None)]
    shown = [(column, top) for column, top in columns if column]
    nodes = {
        one.id: _node(one, at, (height - len(column)) / 2 + n if top is None else top + n, is_self=one is row)
        for at, (column, top) in enumerate(shown)
        for n, one in enumerate(column)
    }
    asked = [(key, one.id, either) for one in (*near, row) for key, either in _asked(one) if key in nodes]
    asked += [(row.id, one.id, either) for one in ahead for key, either in _asked(one) if key == row.id]
    edges = [_edge(nodes[key], nodes[then], either) for key, then, either in asked]
    return Drawing(
        len(shown) * (BOX_WIDTH + GAP) - GAP + 2,
        height * (BOX_HEIGHT + ROW_GAP) - ROW_GAP + 2,
        tuple(nodes.values()),
        tuple(dict.fromkeys(edges)),
    )


def _sides(
    row: ExerciseRow, repertoire: Mapping[str, ExerciseRow], after: Sequence[After]
) -> tuple[list[ExerciseRow], list[ExerciseRow], list[ExerciseRow]]:
    """Two steps back, one step back, one ahead. A direct one that comes before another direct one stands first left."""
    parents = _parents(row, repertoire)
    earlier = {one.id for parent in parents for one in _parents(parent, repertoire)}
    near = [one for one in parents if one.id not in earlier]
    far = {one.id: one for one in parents if one.id in earlier}
    far |= {one.id: one for parent in near for one in _parents(parent, repertoire)}
    ahead = {one.row.id: one.row for one in after if one.row.id not in far}
    return list(far.values()), near, list(ahead.values())


def _asked(row: ExerciseRow) -> list[tuple[str, bool]]:
    """The rows it asks for, each with whether another would do."""
    return [(key, len(group) > 1) for group in row.prerequisites for key in group]


def _node(row: ExerciseRow, column: int, place: float, *, is_self: bool) -> Node:
    y = round(place * (BOX_HEIGHT + ROW_GAP)) + 1
    return Node(row.id, row.name, wrapped(row.name), row.level, column * (BOX_WIDTH + GAP) + 1, y, is_self)


def wrapped(name: str) -> tuple[str, ...]:
    """A name in at most two lines of a box; what does not fit ends in an ellipsis."""
    lines = [""]
    for word in name.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > LINE_LETTERS:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    if len(lines) > LINES:
        lines = [*lines[: LINES - 1], f"{lines[LINES - 1][: LINE_LETTERS - 1].rstrip(' ,:(')}…"]
    return tuple(line if len(line) <= LINE_LETTERS else f"{line[: LINE_LETTERS - 1]}…" for line in lines)


def _edge(first: Node, then: Node, is_one_of: bool) -> Edge:
    """A bend in the room before the later box; over columns between them it runs straight."""
    x, y = first.x + BOX_WIDTH, first.y + BOX_HEIGHT // 2
    end_x, end_y = then.x, then.y + BOX_HEIGHT // 2
    turn, bend = end_x - GAP, GAP // 2
    return Edge(f"M{x} {y}H{turn}C{turn + bend} {y} {end_x - bend} {end_y} {end_x} {end_y}", is_one_of)
