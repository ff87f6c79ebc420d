"""The day sheet laid out: rows of cells five minutes wide, hours, and the plumb line of the present."""

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from scheduling import queries
from scheduling.rules.places import PlaceState
from studio.rules import Span

STEP = 5
SHORTEST_FREE = 15
NARROW = 35
WIDE = 75
HEAD, ROW = 32, 57


@dataclass(frozen=True)
class Cell:
    """One cell: `kind` is place, free, shut or empty; the words are ready to print."""

    columns: int
    kind: str = ""
    url: str = ""
    key: str = ""
    css: str = ""
    label: str = ""
    first: str = ""
    rest: str = ""
    foot: str = ""
    mark: str = ""
    mark_text: str = ""
    icon: str = ""


@dataclass(frozen=True)
class Row:
    label: str
    springs: str
    cells: tuple[Cell, ...]
    site: str = ""
    site_rows: int = 0


@dataclass(frozen=True)
class Hour:
    words: str
    columns: int
    near_now: bool


@dataclass(frozen=True)
class Plumb:
    """Where the present hangs: percent across, wall time, and the rows it passes in pixels (whole: all of them)."""

    x: str
    words: str
    top: int
    bottom: int
    whole: bool


@dataclass(frozen=True)
class Grid:
    columns: int
    hours: tuple[Hour, ...]
    lines: tuple[tuple[str, bool], ...]
    rows: tuple[Row, ...]
    plumbs: tuple[Plumb, ...]
    aside: tuple[queries.DayPlace, ...]


def laid_out(sheet: queries.DaySheet, *, open_place: object = None) -> Grid:
    """The sheet as a grid; `open_place` is the key of the place whose slip is open."""
    columns = (sheet.last_minute - sheet.first_minute) // STEP
    rows: list[Row] = []
    aside: list[queries.DayPlace] = []
    for room in sheet.rooms:
        for at, machine in enumerate(room.machines):
            cells, hidden = _cells(sheet, room, machine, open_place)
            aside += hidden
            site = f"{room.house.name} · {room.name}" if at == 0 else ""
            rows.append(Row(machine.label, machine.springs, tuple(cells), site, len(room.machines)))
    return Grid(columns, tuple(_hours(sheet)), tuple(_lines(sheet)), tuple(rows), tuple(_plumbs(sheet)), tuple(aside))


def _hours(sheet: queries.DaySheet) -> Iterable[Hour]:
    present = {minute for _, minute in _present(sheet)}
    for minute in range(sheet.first_minute, sheet.last_minute, 60):
        near = any(minute - 35 < now < minute + 25 for now in present)
        yield Hour(f"{minute // 60}:00", 60 // STEP, near)


def _lines(sheet: queries.DaySheet) -> Iterable[tuple[str, bool]]:
    for minute in range(sheet.first_minute, sheet.last_minute, 30):
        yield _percent(sheet, minute), minute % 60 != 0


def _percent(sheet: queries.DaySheet, minute: int) -> str:
    return f"{100 * (minute - sheet.first_minute) / (sheet.last_minute - sheet.first_minute):.3f}%"


def _present(sheet: queries.DaySheet) -> Iterable[tuple[queries.House, int]]:
    for room in sheet.rooms:
        local = sheet.now.astimezone(room.house.zone)
        minute = local.hour * 60 + local.minute
        if local.date() == sheet.day and sheet.first_minute <= minute < sheet.last_minute:
            yield room.house, minute


def _plumbs(sheet: queries.DaySheet) -> Iterable[Plumb]:
    """One line where the clocks agree; one for each clock, over its own rooms, where they do not."""
    present = list(_present(sheet))
    minutes = {minute for _, minute in present}
    if len(minutes) == 1 and len(present) == len(sheet.rooms):
        (minute,) = minutes
        yield Plumb(_percent(sheet, minute), f"{minute // 60}:{minute % 60:02}", HEAD, 0, True)
        return
    of = {house.id: minute for house, minute in present}
    top = HEAD
    for room in sheet.rooms:
        bottom = top + ROW * len(room.machines)
        if room.house.id in of:
            minute = of[room.house.id]
            words = f"{minute // 60}:{minute % 60:02}"
            yield Plumb(_percent(sheet, minute), words, top, bottom, False)
        top = bottom


def _cells(
    sheet: queries.DaySheet, room: queries.DayRoom, machine: queries.DayMachine, open_place: object
) -> tuple[list[Cell], list[queries.DayPlace]]:
    taken, hidden = _taken(sheet, room, machine, open_place)
    cells: list[Cell] = []
    at = sheet.first_minute
    for start, end, cell in sorted(taken, key=lambda one: one[0]):
        cells += _gap(sheet, room, machine, at, start)
        cells.append(cell)
        at = end
    return [*cells, *_gap(sheet, room, machine, at, sheet.last_minute)], hidden


Taken = tuple[int, int, Cell]


def _taken(
    sheet: queries.DaySheet, room: queries.DayRoom, machine: queries.DayMachine, open_place: object
) -> tuple[list[Taken], list[queries.DayPlace]]:
    """What stands in the row, holding places first; a cancelled one whose time is taken again is put aside."""
    taken: list[Taken] = []
    hidden: list[queries.DayPlace] = []
    for place in sorted(machine.places, key=lambda place: not place.holds):
        start, end = _minutes(sheet, room, place.span)
        if any(start < other_end and other_start < end for other_start, other_end, _ in taken):
            hidden.append(place)
        else:
            taken.append((start, end, _place_cell(sheet, machine, place, (end - start) // STEP, open_place)))
    for span, why in machine.shut:
        start, end = _minutes(sheet, room, span)
        for free_start, free_end in _left(start, end, taken):
            back = span.end.astimezone(room.house.zone)
            words = Cell(
                (free_end - free_start) // STEP,
                "shut",
                first=why,
                rest=f"back at {back:%H:%M}" if free_end - free_start >= WIDE else "",
            )
            taken.append((free_start, free_end, words))
    return taken, hidden


def _left(start: int, end: int, taken: Iterable[Taken]) -> list[tuple[int, int]]:
    left = []
    for other_start, other_end, _ in sorted(taken, key=lambda one: one[0]):
        if start < min(other_start, end):
            left.append((start, min(other_start, end)))
        start = max(start, other_end)
    if start < end:
        left.append((start, end))
    return left


def _minutes(sheet: queries.DaySheet, room: queries.DayRoom, span: Span) -> tuple[int, int]:
    """The wall minutes of a span on the grid of five, cut to the sheet; never less than one column."""
    start = queries.wall_minute(span.start, room.house, sheet.day) // STEP * STEP
    end = -(-queries.wall_minute(span.end, room.house, sheet.day) // STEP) * STEP
    start = min(max(start, sheet.first_minute), sheet.last_minute - STEP)
    return start, min(max(end, start + STEP), sheet.last_minute)


def _gap(
    sheet: queries.DaySheet, room: queries.DayRoom, machine: queries.DayMachine, start: int, end: int
) -> list[Cell]:
    """Free time that can be booked is a link; what is shut, past or too short to sell stays empty."""
    cells: list[Cell] = []
    at = start
    for free_start, free_end in _bookable(sheet, room, start, end):
        cells += [Cell((free_start - at) // STEP)] if at < free_start else []
        words = f"{free_start // 60}:{free_start % 60:02} to {free_end // 60}:{free_end % 60:02}"
        wanted = {
            "day": sheet.day.isoformat(),
            "on": f"machine:{machine.id}",
            "earliest": f"{free_start // 60:02}:{free_start % 60:02}",
            "latest": f"{free_end // 60:02}:{free_end % 60:02}" if free_end < 24 * 60 else "",
        }
        url = f"{reverse('scheduling:openings')}?{urlencode(wanted)}"
        cells.append(Cell((free_end - free_start) // STEP, "free", url, label=f"Free, {machine.label}, {words}"))
        at = free_end
    return [*cells, Cell((end - at) // STEP)] if at < end else cells


def _bookable(sheet: queries.DaySheet, room: queries.DayRoom, start: int, end: int) -> Iterable[tuple[int, int]]:
    local = sheet.now.astimezone(room.house.zone)
    past = 24 * 60 if local.date() > sheet.day else 0
    if local.date() == sheet.day:
        past = -(-(local.hour * 60 + local.minute) // STEP) * STEP
    for span in room.open:
        opens, closes = _minutes(sheet, room, span)
        free_start, free_end = max(start, opens, past), min(end, closes)
        if free_end - free_start >= SHORTEST_FREE:
            yield free_start, free_end


def _place_cell(
    sheet: queries.DaySheet,
    machine: queries.DayMachine,
    place: queries.DayPlace,
    columns: int,
    open_place: object,
) -> Cell:
    first, _, rest = place.client.partition(" ")
    off = not place.holds and place.state is not PlaceState.MISSED
    mark, text = _mark(place)
    label = [
        place.client,
        f"{machine.label}, {place.start_wall:%H:%M} to {place.end_wall:%H:%M}",
        f"{place.instructor}, {place.kind.words}",
        *(_spoken(one, place) for one in place.marks),
    ]
    short, narrow = columns * STEP < NARROW and not off, columns * STEP < NARROW
    return Cell(
        columns,
        "off" if off else "short" if short else "place",
        reverse("scheduling:place", args=[place.id]),
        str(place.id),
        " ".join(_css(sheet, place, short, place.id == open_place)),
        ", ".join(label),
        _initials(place.client) if narrow else first,
        _rest(place, rest, off, narrow),
        place.initials,
        mark,
        text,
        place.kind.value,
    )


def _rest(place: queries.DayPlace, rest: str, off: bool, narrow: bool) -> str:
    if not off:
        return rest
    words = "cancelled" if place.state is PlaceState.BOOKED else place.state.words
    return "off" if narrow else words


def _mark(place: queries.DayPlace) -> tuple[str, str]:
    if not place.marks or place.marks[0] in ("cancelled", "cancelled_late"):
        return "", ""
    first = place.marks[0]
    words = {"late": f"late {place.late_minutes}", "form_not_current": "form", "speak": "speak"}
    return first, words.get(first, first)


def _spoken(mark: str, place: queries.DayPlace) -> str:
    words = {
        "late": f"late, {place.late_minutes} minutes",
        "form_not_current": "form not current",
        "speak": "speak to the instructor",
        "new": "new client",
        "cancelled_late": "cancelled late",
    }
    return words.get(mark, mark)


def _css(sheet: queries.DaySheet, place: queries.DayPlace, short: bool, is_open: bool) -> Iterable[str]:
    yield "place"
    if place.state is PlaceState.MISSED:
        yield "missed"
    elif not place.holds:
        yield "off"
    elif place.span.end <= sheet.now:
        yield "past"
    elif "late" in place.marks:
        yield "late"
    elif place.state is PlaceState.HERE and place.span.start <= sheet.now:
        yield "running"
    if short:
        yield "short"
    if is_open:
        yield "open"


def _initials(name: str) -> str:
    return "".join(word[0] for word in name.split()[:2])
