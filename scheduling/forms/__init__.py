"""Shapes of scheduling's HTML input; what is allowed is decided by rules and actions."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from scheduling import queries
from scheduling.rules.openings import Wanted
from scheduling.rules.places import LEAST_MINUTES, MOST_MINUTES, LessonKind
from studio.doors.fields import ReasonedForm, StretchesField
from studio.models.places import WEEKDAYS
from studio.rules import ApparatusKind, Span, zones

KINDS = [(kind.value, kind.words) for kind in LessonKind]
APPARATUS = [(kind.value, kind.value) for kind in ApparatusKind]
LEVELS = [("0", "does not teach it"), *((str(level), f"up to level {level}") for level in range(1, 6))]
FIRST_YEAR, LAST_YEAR = 2000, 2100
DATE = {"type": "date"}
TIME = {"type": "time"}


def a_day(text: str) -> date | None:
    """A day written as 2026-03-12 between the years 2000 and 2100, else None."""
    try:
        day = date.fromisoformat(text.strip()) if len(text.strip()) == 10 else None
    except ValueError:
        return None
    return day if day is not None and FIRST_YEAR <= day.year <= LAST_YEAR else None


def offer(form: forms.Form, name: str, choices: Iterable[tuple[object, str]]) -> None:
    """Fill a field of choices with rows of today."""
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)
    field.choices = [(str(key), words) for key, words in choices]


def named(choices: Iterable[queries.Choice]) -> list[tuple[object, str]]:
    return [(one.id, one.name) for one in choices]


class DayField(forms.DateField):
    def __init__(self, **options: Any) -> None:
        widget = forms.DateInput(attrs=DATE, format="%Y-%m-%d")
        super().__init__(**{"widget": widget, "input_formats": ["%Y-%m-%d"], **options})

    def clean(self, value: Any) -> Any:
        day = super().clean(value)
        if day is not None and not FIRST_YEAR <= day.year <= LAST_YEAR:
            raise forms.ValidationError("That is not a day of this century.")
        return day


class WallField(forms.TimeField):
    def __init__(self, **options: Any) -> None:
        widget = forms.TimeInput(attrs=TIME, format="%H:%M")
        super().__init__(**{"widget": widget, "input_formats": ["%H:%M", "%H:%M:%S"], **options})


class OpeningsForm(ReasonedForm):
    """The request as a sentence. `on` is a kind ("reformer") or a machine ("machine:3"); empty choices mean any."""

    client = forms.UUIDField(required=False, widget=forms.HiddenInput)
    minutes = forms.IntegerField(label="Minutes", min_value=LEAST_MINUTES, max_value=MOST_MINUTES)
    kind = forms.ChoiceField(label="Kind", choices=KINDS)
    on = forms.ChoiceField(label="Apparatus")
    teacher = forms.TypedChoiceField(label="Teacher", coerce=int, empty_value=None, required=False)
    studio = forms.TypedChoiceField(label="Studio", coerce=int, empty_value=None, required=False)
    weekdays = forms.TypedMultipleChoiceField(
        label="Days", coerce=int, required=False, choices=WEEKDAYS, widget=forms.CheckboxSelectMultiple
    )
    earliest = WallField(label="From", required=False)
    latest = WallField(label="To", required=False)
    day = DayField(label="First day")
    weeks = forms.TypedChoiceField(
        label="How far ahead",
        coerce=int,
        choices=[("0", "that day"), ("1", "one week"), ("2", "two weeks"), ("4", "four weeks")],
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        machines = queries.machine_choices()
        kinds = [(kind, f"any {kind}") for kind in dict.fromkeys(machine.kind for machine in machines)]
        by_key = [(f"machine:{machine.id}", machine.name) for machine in machines]
        offer(self, "on", [("", "anything"), *kinds, *by_key])
        self.fields["on"].required = False
        offer(self, "teacher", [("", "anyone who may teach it"), *named(queries.instructor_choices())])
        offer(self, "studio", [("", "any studio"), *named(queries.studio_choices())])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        earliest, latest = data.get("earliest"), data.get("latest")
        if earliest and latest and latest <= earliest:
            self.add_error("latest", "The end is not after the beginning.")
        return data

    def wanted(self) -> Wanted:
        """What to look for; only after `is_valid`."""
        data = self.cleaned_data
        machine = data["on"].partition("machine:")[2]
        more: dict[str, Any] = {"earliest": data["earliest"]} if data["earliest"] else {}
        days: tuple[date, ...] = (data["day"],)
        if data["weeks"]:
            days = queries.days_from(data["day"], weekdays=data["weekdays"], weeks=data["weeks"])
        return Wanted(
            minutes=data["minutes"],
            kind=LessonKind(data["kind"]),
            days=days,
            apparatus_kind=ApparatusKind(data["on"]) if data["on"] and not machine else None,
            apparatus_ids=(int(machine),) if machine else (),
            instructor_ids=(data["teacher"],) if data["teacher"] else (),
            studio_ids=(data["studio"],) if data["studio"] else (),
            latest=data["latest"],
            step=5 if machine else 15,
            **more,
        )


class BookForm(ReasonedForm):
    """One opening as it stands in the list, to be booked."""

    client = forms.UUIDField()
    apparatus = forms.IntegerField(min_value=1, max_value=2**31 - 1)
    instructor = forms.IntegerField(min_value=1, max_value=2**31 - 1)
    start = forms.DateTimeField(input_formats=["%Y-%m-%dT%H:%M:%S%z"])
    minutes = forms.IntegerField(min_value=LEAST_MINUTES, max_value=MOST_MINUTES)
    kind = forms.ChoiceField(choices=KINDS)
    lesson = forms.UUIDField(required=False)

    def booking(self) -> dict[str, Any]:
        """The arguments of `actions.book_place`; only after `is_valid`."""
        data = self.cleaned_data
        return {
            "client_id": data["client"],
            "apparatus_id": data["apparatus"],
            "instructor_id": data["instructor"],
            "span": Span(data["start"], data["start"] + timedelta(minutes=data["minutes"])),
            "kind": LessonKind(data["kind"]),
            "lesson_id": data["lesson"],
        }


class MoveForm(ReasonedForm):
    """Where a lesson goes; the wall time is that of the studio it is in."""

    day = DayField(label="Day")
    start = WallField(label="Starts at")
    minutes = forms.IntegerField(label="Minutes", min_value=LEAST_MINUTES, max_value=MOST_MINUTES)
    instructor = forms.TypedChoiceField(label="Teacher", coerce=int)
    apparatus = forms.TypedChoiceField(label="Machine", coerce=int)

    def __init__(self, *args: Any, place: queries.PlaceFacts, **options: Any) -> None:
        now_there = {
            "day": place.day,
            "start": place.start_wall.time(),
            "minutes": int(place.span.minutes),
            "instructor": place.instructor_id,
            "apparatus": place.apparatus_id,
        }
        super().__init__(*args, **{"initial": now_there, **options})
        offer(self, "instructor", named(queries.instructor_choices()))
        offer(self, "apparatus", named(queries.machine_choices()))

    def span(self, zone: ZoneInfo) -> Span:
        """Only after `is_valid`."""
        data = self.cleaned_data
        start = zones.at(data["day"], data["start"], zone).instant
        return Span(start, start + timedelta(minutes=data["minutes"]))


class RoomForm(ReasonedForm):
    studio = forms.TypedChoiceField(label="Studio", coerce=int)
    name = forms.CharField(label="Room", max_length=80, help_text="As it is called in the house: Long Room.")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        offer(self, "studio", named(queries.studio_choices()))


class MachineForm(ReasonedForm):
    room = forms.TypedChoiceField(label="Room", coerce=int)
    kind = forms.ChoiceField(label="Kind", choices=APPARATUS)
    label = forms.CharField(label="Label", max_length=60, help_text="As it is called: Reformer 3.")
    heavy = forms.IntegerField(label="Heavy springs", min_value=0, max_value=6, initial=2)
    medium = forms.IntegerField(label="Medium springs", min_value=0, max_value=6, initial=2)
    light = forms.IntegerField(label="Light springs", min_value=0, max_value=6, initial=1)

    def __init__(self, *args: Any, rooms: list[queries.RoomRow], **options: Any) -> None:
        super().__init__(*args, **options)
        offer(self, "room", [(room.id, f"{room.name}, {room.studio}") for room in rooms])

    def springs(self) -> str:
        return letters_of(self.cleaned_data)


class SpringsForm(ReasonedForm):
    heavy = forms.IntegerField(label="Heavy", min_value=0, max_value=6)
    medium = forms.IntegerField(label="Medium", min_value=0, max_value=6)
    light = forms.IntegerField(label="Light", min_value=0, max_value=6)

    def springs(self) -> str:
        return letters_of(self.cleaned_data)


def letters_of(data: Mapping[str, int]) -> str:
    return "H" * data["heavy"] + "M" * data["medium"] + "L" * data["light"]


class AwayForm(ReasonedForm):
    """A span of wall time with a reason: a machine out of service, a teacher off."""

    first_day = DayField(label="From")
    starts = WallField(label="at")
    last_day = DayField(label="Until")
    ends = WallField(label="at")
    why = forms.CharField(label="Why", max_length=120, required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and self._end() <= self._start():
            self.add_error("last_day", "It ends before it begins.")
        return data

    def span(self, zone: ZoneInfo) -> Span:
        """Only after `is_valid`."""
        start, end = self._start(), self._end()
        first = zones.at(start.date(), start.time(), zone).instant
        last = zones.at(end.date(), end.time(), zone).instant
        return Span(first, max(last, first + timedelta(minutes=1)))

    def _start(self) -> datetime:
        return datetime.combine(self.cleaned_data["first_day"], self.cleaned_data["starts"])

    def _end(self) -> datetime:
        return datetime.combine(self.cleaned_data["last_day"], self.cleaned_data["ends"])


class TeacherForm(ReasonedForm):
    """Initials, a level for each kind, and stretches of each weekday at each studio."""

    initials = forms.CharField(label="Initials on the day sheet", max_length=4)

    def __init__(self, *args: Any, teacher: queries.TeacherRow, studios: list[queries.Choice], **options: Any) -> None:
        super().__init__(*args, **{"initial": initial_of(teacher), **options})
        self.studios = studios
        for kind in ApparatusKind:
            self.fields[f"level_{kind}"] = forms.ChoiceField(label=str(kind), choices=LEVELS)
        for studio in studios:
            for number, name in WEEKDAYS:
                self.fields[f"hours_{studio.id}_{number}"] = StretchesField(label=name)

    def levels(self) -> dict[ApparatusKind, int]:
        chosen = ((kind, self.cleaned_data[f"level_{kind}"]) for kind in ApparatusKind)
        return {kind: int(level) for kind, level in chosen if level != "0"}

    def hours(self) -> list[tuple[int, int, Any, Any]]:
        return [
            (studio.id, number, starts, ends)
            for studio in self.studios
            for number, _ in WEEKDAYS
            for starts, ends in self.cleaned_data[f"hours_{studio.id}_{number}"]
        ]

    def level_fields(self) -> list[Any]:
        return [self[f"level_{kind}"] for kind in ApparatusKind]

    def studio_fields(self) -> list[tuple[str, list[Any]]]:
        return [
            (studio.name, [self[f"hours_{studio.id}_{number}"] for number, _ in WEEKDAYS]) for studio in self.studios
        ]


def initial_of(teacher: queries.TeacherRow) -> dict[str, Any]:
    initials = teacher.initials or "".join(word[0] for word in teacher.name.split())[:2].upper()
    known: dict[str, Any] = {"initials": initials}
    known |= {f"level_{kind}": str(level) for kind, level in (teacher.may_teach or {}).items()}
    for hours in teacher.hours:
        known.setdefault(f"hours_{hours.studio_id}_{hours.weekday}", []).append((hours.starts, hours.ends))
    return known


class HandOverForm(ReasonedForm):
    from_instructor = forms.TypedChoiceField(label="Lessons of", coerce=int)
    to_instructor = forms.TypedChoiceField(label="Go to", coerce=int)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        choices = named(queries.instructor_choices())
        offer(self, "from_instructor", choices)
        offer(self, "to_instructor", choices)
