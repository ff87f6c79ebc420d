"""The day sheet laid out: rows of cells five minutes wide, hours, and the plumb line of the present."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from itertools import groupby
from urllib.parse import urlencode

from django.urls import reverse

from scheduling import queries
from scheduling.rules.places import PlaceState
from studio.rules import Span

STEP = 5
SHORTEST_FREE = 15
NARROW = 35
WIDE = 75
# From here on the mark has room for its minutes beside the teacher's initials.
ROOMY = 70
# Pixels the look gives the head of the sheet, a studio's band, a row with places and one without.
HEAD, BAND, ROW, QUIET_ROW = 32, 28, 57, 44
LONG_DAY = 14 * 60 // STEP


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
    band: str = ""
    band_note: str = ""

    @property
    def quiet(self) -> bool:
        """Nothing stands in it, so it may be lower."""
        return all(cell.kind in ("", "free") for cell in self.cells)

    @property
    def height(self) -> int:
        return (QUIET_ROW if self.quiet else ROW) + (BAND if self.band else 0)


@dataclass(frozen=True)
class Hour:
    words: str
    columns: int
    near_now: bool


@dataclass(frozen=True)
class Plumb:
    """Where the present hangs: percent across, wall time, and the pixels from peg to end (whole: the whole sheet)."""

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

    @property
    def long(self) -> bool:
        """More hours than a desk's screen shows with room for the words; the sheet scrolls in its frame."""
        return self.columns > LONG_DAY


def laid_out(sheet: queries.DaySheet, *, open_place: object = None) -> Grid:
    """The sheet as a grid; `open_place` is the key of the place whose slip is open."""
    columns = (sheet.last_minute - sheet.first_minute) // STEP
    aside: list[queries.DayPlace] = []
    groups = [(room, _rows(sheet, room, aside, open_place)) for room in sheet.rooms]
    if _several_clocks(sheet):
        groups = _banded(sheet, groups)
    rows = tuple(row for _, of_room in groups for row in of_room)
    plumbs = tuple(_plumbs(sheet, groups))
    return Grid(columns, tuple(_hours(sheet)), tuple(_lines(sheet)), rows, plumbs, tuple(aside))


def _rows(
    sheet: queries.DaySheet, room: queries.DayRoom, aside: list[queries.DayPlace], open_place: object
) -> list[Row]:
    rows = []
    for at, machine in enumerate(room.machines):
        cells, hidden = _cells(sheet, room, machine, open_place)
        aside += hidden
        site = "" if at else room.name if _several_clocks(sheet) else f"{room.house.name} · {room.name}"
        rows.append(Row(machine.label, machine.springs, tuple(cells), site, len(room.machines)))
    return rows


Groups = list[tuple[queries.DayRoom, list[Row]]]


def _several_clocks(sheet: queries.DaySheet) -> bool:
    return len({_offset(sheet, room.house) for room in sheet.rooms}) > 1


def _offset(sheet: queries.DaySheet, house: queries.House) -> timedelta:
    noon = datetime.combine(sheet.day, time(12), house.zone)
    return noon.utcoffset() or timedelta()


def _banded(sheet: queries.DaySheet, groups: Groups) -> Groups:
    """A band over the rows of each studio, saying whose clock the rows under it keep."""
    banded: Groups = []
    first = groups[0][0].house
    for room, rows in groups:
        if not banded or banded[-1][0].house.id != room.house.id:
            note = _ahead(_offset(sheet, room.house) - _offset(sheet, first), first.name)
            rows = [replace(rows[0], band=room.house.name, band_note=note), *rows[1:]]
        banded.append((room, rows))
    return banded


def _ahead(difference: timedelta, of: str) -> str:
    if not difference:
        return ""
    hours, minutes = divmod(abs(int(difference.total_seconds())) // 60, 60)
    parts = [f"{hours} hour{'s' * (hours != 1)}"] * bool(hours) + [f"{minutes} minutes"] * bool(minutes)
    return f"{' '.join(parts)} {'ahead of' if difference > timedelta() else 'behind'} {of}"


def _hours(sheet: queries.DaySheet) -> Iterable[Hour]:
    present = set() if _several_clocks(sheet) else {minute for _, minute in _present(sheet)}
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


def _plumbs(sheet: queries.DaySheet, groups: Groups) -> Iterable[Plumb]:
    """One line where the clocks agree; one for each studio, from its band down its rows, where they do not."""
    of = {house.id: minute for house, minute in _present(sheet)}
    if not _several_clocks(sheet):
        if of:
            yield _plumb(sheet, next(iter(of.values())), 0, 0, True)
        return
    top = HEAD
    for _, same_house in groupby(groups, key=lambda group: group[0].house.id):
        rooms = list(same_house)
        bottom = top + sum(row.height for _, rows in rooms for row in rows)
        if (minute := of.get(rooms[0][0].house.id)) is not None:
            yield _plumb(sheet, minute, top, bottom, False)
        top = bottom


def _plumb(sheet: queries.DaySheet, minute: int, top: int, bottom: int, whole: bool) -> Plumb:
    return Plumb(_percent(sheet, minute), f"{minute // 60}:{minute % 60:02}", top, bottom, whole)


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
            wide = free_end - free_start >= WIDE
            rest = _back(span.end.astimezone(room.house.zone), sheet.day) if wide else ""
            taken.append((free_start, free_end, Cell((free_end - free_start) // STEP, "shut", first=why, rest=rest)))
    return taken, hidden


def _back(end: datetime, day: date) -> str:
    """When a machine is there again, by the day it is first usable: the end of a day is the next morning."""
    if end.date() == day:
        return f"back at {end:%H:%M}"
    last_minute = end.time() >= time(23, 59)
    first = end.date() + timedelta(days=1) if last_minute else end.date()
    when = f"back {first:%A} {first.day} {first:%B}"
    return when if last_minute or end.time() == time(0) else f"{when}, {end:%H:%M}"


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
    narrow = columns * STEP < NARROW
    short = narrow and not off
    mark, text = _mark(place, columns * STEP)
    return Cell(
        columns,
        kind="off" if off else "short" if short else "place",
        url=reverse("scheduling:place", args=[place.id]),
        key=str(place.id),
        css=" ".join(_css(sheet, place, short, place.id == open_place)),
        label=_told(machine, place),
        first=_initials(place.client) if narrow else first,
        rest=_rest(place, rest, off, narrow),
        foot="" if mark == "missed" and columns * STEP < ROOMY else place.initials,
        mark=mark,
        mark_text=text,
        icon=place.kind.value,
    )


def _told(machine: queries.DayMachine, place: queries.DayPlace) -> str:
    """The place in words, for whoever hears the sheet."""
    label = [
        place.client,
        f"{machine.label}, {place.start_wall:%H:%M} to {place.end_wall:%H:%M}",
        f"{place.instructor}, {place.kind.words}",
        *(_spoken(one, place) for one in place.marks),
    ]
    return ", ".join(label)


def _rest(place: queries.DayPlace, rest: str, off: bool, narrow: bool) -> str:
    if not off:
        return rest
    words = "cancelled" if place.state is PlaceState.BOOKED else place.state.words
    return "off" if narrow else words


def _mark(place: queries.DayPlace, minutes: int) -> tuple[str, str]:
    if not place.marks or place.marks[0] in ("cancelled", "cancelled_late"):
        return "", ""
    first = place.marks[0]
    late = f"late {place.late_minutes}" if minutes >= ROOMY else "late"
    words = {"late": late, "form_not_current": "form", "speak": "speak"}
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
