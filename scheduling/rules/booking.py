"""Whether a place may be booked: facts in, reasons out. An empty list of reasons is a yes."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from zoneinfo import ZoneInfo

from scheduling.rules import places
from studio.rules import ApparatusKind, Reason, Span, zones
from studio.rules.spans import covered, merged, without


class FormWord(StrEnum):
    """All the desk ever hears of a screening."""

    CURRENT = "form_current"
    NOT_CURRENT = "form_not_current"
    SPEAK = "speak_to_instructor"


@dataclass(frozen=True)
class House:
    """A studio around the lesson's day: its opening spans and what closes it."""

    name: str
    zone: ZoneInfo
    opening: tuple[Span, ...]
    closures: tuple[Span, ...] = ()


@dataclass(frozen=True)
class Machine:
    """The machine asked for. `studio` and `room` are names; an empty room is not compared."""

    label: str
    kind: ApparatusKind
    studio: str
    room: str = ""
    in_service: bool = True
    out_of_service: tuple[Span, ...] = ()


@dataclass(frozen=True)
class Instructor:
    """Who would teach: highest level by kind, hours here, hours by name of another studio, time off, clearances."""

    name: str
    teaches: Mapping[ApparatusKind, int]
    hours: tuple[Span, ...]
    elsewhere: tuple[tuple[str, Span], ...] = ()
    time_off: tuple[Span, ...] = ()
    cleared_for: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Client:
    """What may be known of a client at the desk; `needs` is compared and never told.

    `form_until` is the last day the form is good for, `missing` names the papers ("signature"), `ceiling` is the signed
    level on this kind of apparatus, None when nobody signed one yet.
    """

    name: str
    form: FormWord
    form_until: date | None = None
    missing: tuple[str, ...] = ()
    ceiling: int | None = None
    needs: frozenset[str] = frozenset()


class ClashOn(StrEnum):
    MACHINE = "machine"
    INSTRUCTOR = "instructor"
    CLIENT = "client"


@dataclass(frozen=True)
class Clash:
    """A booking in the way: what it holds, the name of that, who has it and when."""

    on: ClashOn
    name: str
    held_by: str
    span: Span


@dataclass(frozen=True)
class BookingFacts:
    """All that is known when a place is asked for. `seats_taken` counts the places of others that hold a seat.

    `level` is the level of the lesson, None when it follows the client (private). `room` is the lesson's room.
    """

    now: datetime
    span: Span
    kind: places.LessonKind
    house: House
    machine: Machine
    instructor: Instructor
    client: Client
    seats_total: int = 1
    seats_taken: int = 0
    level: int | None = None
    room: str = ""
    clashes: tuple[Clash, ...] = field(default=())


def booking_refusals(facts: BookingFacts) -> list[Reason]:
    """Every rule that says no, in the order a person would ask; empty when the place may be booked."""
    return [
        *_time_refusals(facts),
        *_machine_refusals(facts),
        *_instructor_refusals(facts),
        *_lesson_refusals(facts),
        *_client_refusals(facts),
        *clash_reasons(facts.clashes, zone=facts.house.zone),
    ]


def booking_marks(facts: BookingFacts) -> list[Reason]:
    """What does not stop the booking and has to be seen: `form_runs_out`."""
    client, lesson_day = facts.client, zones.local_day(facts.span.start, facts.house.zone)
    if _form_refusals(facts) or client.form_until is None or client.form_until >= lesson_day:
        return []
    says = f"{client.name}'s health form runs out on {day_words(client.form_until)}, before this lesson."
    return [Reason("form_runs_out", says, "client", "It must be current again when the lesson starts.")]


def clash_reasons(clashes: Iterable[Clash], *, zone: ZoneInfo) -> list[Reason]:
    """One reason a clash: machine_taken, instructor_taken, client_taken, with who has it and when in `zone`."""
    allowed = {
        ClashOn.MACHINE: "Another machine, or another time.",
        ClashOn.INSTRUCTOR: "Another teacher, or another time.",
        ClashOn.CLIENT: "Another time, or cancel the other place first.",
    }
    return [
        Reason(
            f"{clash.on}_taken",
            f"{clash.name} is already taken from {span_words(clash.span, zone)}, by {clash.held_by}.",
            "apparatus" if clash.on is ClashOn.MACHINE else str(clash.on),
            allowed[clash.on],
        )
        for clash in clashes
    ]


def span_words(span: Span, zone: ZoneInfo) -> str:
    """ "09:00 to 09:55", wall times of `zone`."""
    return f"{span.start.astimezone(zone):%H:%M} to {span.end.astimezone(zone):%H:%M}"


def day_words(day: date) -> str:
    """ "17 March 2026"."""
    return f"{day.day} {day:%B %Y}"


def _time_refusals(facts: BookingFacts) -> list[Reason]:
    reasons = places.length_refusals(facts.span)
    if facts.span.start < facts.now:
        reasons.append(Reason("in_the_past", "That time has already gone by.", "start", "A time from now on."))
    house = facts.house
    if covered(facts.span, _left(house.opening, house.closures)):
        return reasons
    says = f"{house.name} is closed for at least a part of {span_words(facts.span, house.zone)}."
    return [*reasons, Reason("studio_closed", says, "start", _open_words(facts))]


def _open_words(facts: BookingFacts) -> str:
    house = facts.house
    today = zones.day_span(zones.local_day(facts.span.start, house.zone), house.zone)
    spans = [
        span_words(part, house.zone) for span in _left(house.opening, house.closures) if (part := span.common(today))
    ]
    return f"Open that day {' and '.join(spans)}." if spans else "Another day: it is closed all day."


def _machine_refusals(facts: BookingFacts) -> list[Reason]:
    machine, reasons = facts.machine, []
    if machine.studio != facts.house.name:
        says = f"{machine.label} stands in {machine.studio}, the lesson is in {facts.house.name}."
        reasons.append(Reason("other_studio", says, "apparatus", f"A machine in {facts.house.name}."))
    elif facts.room and machine.room and machine.room != facts.room:
        says = f"{machine.label} stands in {machine.room}, the lesson is in {facts.room}."
        reasons.append(Reason("other_room", says, "apparatus", f"A machine in {facts.room}."))
    if not machine.in_service:
        says = f"{machine.label} is not in service."
        reasons.append(Reason("not_in_service", says, "apparatus", "Another machine."))
    for span in machine.out_of_service:
        if span.overlaps(facts.span):
            until = span.end.astimezone(facts.house.zone)
            says = f"{machine.label} is out of service until {until:%H:%M} on {day_words(until.date())}."
            reasons.append(Reason("out_of_service", says, "apparatus", "Another machine, or a later time."))
    return reasons


def _instructor_refusals(facts: BookingFacts) -> list[Reason]:
    return [*_absence(facts), *_clearance(facts)]


def _absence(facts: BookingFacts) -> list[Reason]:
    who = facts.instructor
    if any(span.overlaps(facts.span) for span in who.time_off):
        says = f"{who.name} is off then."
        return [Reason("instructor_off", says, "instructor", "Another teacher, or another time.")]
    if covered(facts.span, who.hours):
        return []
    for studio, span in who.elsewhere:
        if span.overlaps(facts.span):
            says = f"{who.name} is in {studio} then."
            return [Reason("other_studio", says, "instructor", f"A teacher who is in {facts.house.name} then.")]
    hours = " and ".join(span_words(span, facts.house.zone) for span in merged(who.hours))
    allowed = f"{who.name} is here {hours}." if hours else "Another teacher, or another day."
    return [Reason("instructor_off", f"{who.name} does not work then.", "instructor", allowed)]


def _clearance(facts: BookingFacts) -> list[Reason]:
    who, kind = facts.instructor, facts.machine.kind
    up_to = who.teaches.get(kind)
    if up_to is None:
        says = f"{who.name} does not teach on the {kind}."
    elif facts.level is not None and facts.level > up_to:
        says = f"{who.name} teaches the {kind} up to level {up_to}; this lesson is level {facts.level}."
    elif not facts.client.needs <= who.cleared_for:
        # Never for what: a need is health, and the desk reads this.
        says = f"{who.name} is not cleared for {facts.client.name}."
    else:
        return []
    return [Reason("instructor_not_cleared", says, "instructor", f"Anyone cleared for {facts.client.name}.")]


def _lesson_refusals(facts: BookingFacts) -> list[Reason]:
    reasons = places.seat_refusals(facts.kind, facts.seats_total)
    if facts.seats_taken < facts.seats_total:
        return reasons
    says = f"This {facts.kind.words} lesson is full: {facts.seats_taken} of {facts.seats_total} seats are taken."
    return [*reasons, Reason("lesson_full", says, "lesson", "Another lesson, or the waiting list.")]


def _client_refusals(facts: BookingFacts) -> list[Reason]:
    reasons, client, kind = _form_refusals(facts), facts.client, facts.machine.kind
    ceiling = 1 if client.ceiling is None else client.ceiling
    if facts.level is None or facts.level <= ceiling:
        return reasons
    says = f"This lesson is level {facts.level}; {client.name} is signed for level {ceiling} on the {kind}."
    if client.ceiling is None:
        says = f"This lesson is level {facts.level}; nobody has signed a level for {client.name} on the {kind} yet."
    allowed = f"A lesson of level {ceiling}" + (" or below" if ceiling > 1 else "") + ", or a private one."
    return [*reasons, Reason("above_ceiling", says, "client", allowed)]


def _form_refusals(facts: BookingFacts) -> list[Reason]:
    client = facts.client
    if client.form is FormWord.SPEAK:
        says = f"Speak to the instructor before you book {client.name}."
        return [Reason("speak_to_instructor", says, "client", "The instructor says what is possible now.")]
    today = zones.local_day(facts.now, facts.house.zone)
    run_out = client.form_until is not None and client.form_until < today
    if client.form is FormWord.CURRENT and not run_out:
        return []
    missing = " and ".join(client.missing)
    says = f"{client.name}'s health form is not current" + (f": {missing} missing." if missing else ".")
    allowed = "Hand in the letter; book when a teacher has read it."
    if client.missing != ("letter",):
        allowed = "Send or hand over the form; book when it is current."
    return [Reason("form_not_current", says, "client", allowed)]


def start_refusals(client: Client, *, on: date) -> list[Reason]:
    """Why the lesson of `client` may not start on the local day `on`, in the desk's words; empty when it may.

    A form that ran out after the booking is asked about here: it must be current when the lesson starts.
    """
    if client.form is FormWord.SPEAK:
        says = f"Speak to the instructor before {client.name}'s lesson starts."
        return [Reason("speak_to_instructor", says, "client", "The instructor says what is possible today.")]
    run_out = client.form_until is not None and client.form_until < on
    if client.form is FormWord.CURRENT and not run_out:
        return []
    says = f"{client.name}'s health form is not current, so the lesson cannot start yet."
    if "letter" in client.missing:
        return [
            Reason("form_not_current", says, "client", "A letter is missing; the instructor says what is possible.")
        ]
    return [Reason("form_not_current", says, "client", "It can be filled in on this tablet, from the client's card.")]


def _left(spans: Iterable[Span], taken: Iterable[Span]) -> list[Span]:
    taken = list(taken)
    return [part for span in merged(spans) for part in without(span, taken)]
