"""Rooms, machines with their springs, out of service; teachers with clearance, hours and time off; handing over."""

from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scheduling import actions, forms, queries
from studio.doors import me
from studio.rules import ApparatusKind, zones


@require_safe
def machines(request: HttpRequest) -> HttpResponse:
    return render(request, "scheduling/machines.html", machines_context() | {"teachers": queries.teachers()})


@require_safe
def setup_machines(request: HttpRequest) -> HttpResponse:
    """The same list and forms as a panel of the first day."""
    return render(request, "scheduling/_machines.html", machines_context())


@require_POST
def add_room(request: HttpRequest) -> HttpResponse:
    form = forms.RoomForm(request.POST)
    done = form.carried_out(
        lambda data: actions.add_room(studio_id=data["studio"], name=data["name"], by=me(request), now=timezone.now())
    )
    return _machines(request, done, room_form=form, said="The room is there.")


@require_POST
def add_machine(request: HttpRequest) -> HttpResponse:
    rooms = {room.id: room for room in queries.rooms(now=timezone.now())}
    form = forms.MachineForm(request.POST, rooms=list(rooms.values()))
    done = form.carried_out(lambda data: _add_machine(request, form, rooms[data["room"]]))
    return _machines(request, done, machine_form=form, said="The machine is there.")


def _add_machine(request: HttpRequest, form: forms.MachineForm, room: queries.RoomRow) -> None:
    actions.add_apparatus(
        studio_id=room.studio_id,
        room_id=room.id,
        kind=ApparatusKind(form.cleaned_data["kind"]),
        label=form.cleaned_data["label"],
        springs=form.springs(),
        by=me(request),
        now=timezone.now(),
    )


@require_http_methods(["GET", "POST"])
def machine(request: HttpRequest, apparatus_id: int) -> HttpResponse:
    """One machine: what hangs on it, and when it is out of service."""
    room, row = _machine(apparatus_id)
    counts = {"heavy": row.letters.count("H"), "medium": row.letters.count("M"), "light": row.letters.count("L")}
    form = forms.SpringsForm(request.POST or None, initial=counts)
    if request.method == "POST" and form.carried_out(
        lambda data: actions.change_springs(apparatus_id, springs=form.springs(), by=me(request), now=timezone.now())
    ):
        messages.success(request, f"{row.label} carries {form.springs() or 'no springs'} from today on.")
        return redirect("scheduling:machine", apparatus_id)
    return _machine_page(request, room, row, springs_form=form)


@require_POST
def out_of_service(request: HttpRequest, apparatus_id: int) -> HttpResponse:
    room, row = _machine(apparatus_id)
    form = forms.AwayForm(request.POST)
    if form.carried_out(
        lambda data: actions.take_out_of_service(
            apparatus_id, span=form.span(room.zone), why=data["why"], by=me(request), now=timezone.now()
        )
    ):
        messages.success(request, f"{row.label} is out of service; nobody can be booked on it then.")
        return redirect("scheduling:machine", apparatus_id)
    return _machine_page(request, room, row, away_form=form)


@require_POST
def back_in_service(request: HttpRequest, apparatus_id: int, out_id: int) -> HttpResponse:
    actions.bring_back(out_id, by=me(request), now=timezone.now())
    messages.success(request, "It can be booked again.")
    return redirect("scheduling:machine", apparatus_id)


@require_http_methods(["GET", "POST"])
def instructor(request: HttpRequest, person_id: int) -> HttpResponse:
    """What a person may teach, and her hours at each studio."""
    row = queries.teacher(person_id, now=timezone.now())
    form = forms.TeacherForm(request.POST or None, teacher=row, studios=queries.studio_choices())
    if request.method == "POST" and form.carried_out(lambda data: _keep_teacher(request, form, row)):
        messages.success(request, f"{row.name}'s clearance and hours are kept.")
        return redirect("scheduling:instructor", person_id)
    return _teacher_page(request, row, form=form)


def _keep_teacher(request: HttpRequest, form: forms.TeacherForm, row: queries.TeacherRow) -> None:
    known: dict[str, Any] = {
        "initials": form.cleaned_data["initials"],
        "may_teach": form.levels(),
        "hours": form.hours(),
        "by": me(request),
        "now": timezone.now(),
    }
    if row.instructor_id is None:
        actions.add_instructor(person_id=row.person_id, **known)
    else:
        actions.change_instructor(row.instructor_id, **known)


@require_POST
def time_off(request: HttpRequest, person_id: int) -> HttpResponse:
    row = queries.teacher(person_id, now=timezone.now())
    form = forms.AwayForm(request.POST)
    if row.instructor_id is not None and form.carried_out(
        lambda data: actions.add_time_off(
            row.instructor_id or 0, span=form.span(_zone()), why=data["why"], by=me(request), now=timezone.now()
        )
    ):
        messages.success(request, f"{row.name} is off then; that time cannot be booked.")
        return redirect("scheduling:instructor", person_id)
    return _teacher_page(request, row, away_form=form)


@require_POST
def end_time_off(request: HttpRequest, person_id: int, off_id: int) -> HttpResponse:
    actions.end_time_off(off_id, by=me(request), now=timezone.now())
    messages.success(request, "That time can be booked again.")
    return redirect("scheduling:instructor", person_id)


@require_http_methods(["GET", "POST"])
def hand_over(request: HttpRequest) -> HttpResponse:
    """All lessons ahead of one teacher to another; those that could not go are listed with the reasons."""
    initial = {"from_instructor": _leaving(request)}
    form = forms.HandOverForm(request.POST or None, initial=initial)
    context: dict[str, Any] = {"form": form, "leaving": request.GET["from"] if initial["from_instructor"] else ""}
    if request.method == "POST" and form.carried_out(lambda data: context.update(handed=_hand_over(request, data))):
        context |= {"left": _left(context["handed"])}
    return render(request, "scheduling/hand_over.html", context, status=422 if form.errors else 200)


def _hand_over(request: HttpRequest, data: dict[str, Any]) -> actions.HandedOver:
    return actions.hand_over(data["from_instructor"], data["to_instructor"], by=me(request), now=timezone.now())


def _left(handed: actions.HandedOver) -> list[tuple[str, list[str]]]:
    zone = _zone()
    rows = []
    for _, span, reasons in handed.left:
        start = span.start.astimezone(zone)
        rows.append((f"{start:%A} {start.day} {start:%B}, {start:%H:%M}", [reason.says for reason in reasons]))
    return rows


def _leaving(request: HttpRequest) -> int | None:
    text = request.GET.get("from", "")
    return queries.instructor_of(int(text)) if text.isascii() and text.isdigit() and len(text) < 10 else None


def machines_context(**more: Any) -> dict[str, Any]:
    rooms = queries.rooms(now=timezone.now())
    return {
        "rooms": rooms,
        "room_form": forms.RoomForm(),
        "machine_form": forms.MachineForm(rooms=rooms),
        **more,
    }


def _machines(request: HttpRequest, done: bool, *, said: str, **form: Any) -> HttpResponse:
    """The panel again for htmx; the whole page otherwise. A refused form keeps what was typed."""
    context = machines_context(**({} if done else form))
    status = 200 if done else 422
    if request.headers.get("HX-Request"):
        return render(request, "scheduling/_machines.html", context | {"said": said if done else ""}, status=status)
    if done:
        messages.success(request, said)
        return redirect("scheduling:machines")
    return render(request, "scheduling/machines.html", context | {"teachers": queries.teachers()}, status=status)


def _machine(apparatus_id: int) -> tuple[queries.RoomRow, queries.MachineRow]:
    return queries.machine(apparatus_id, now=timezone.now())


def _machine_page(request: HttpRequest, room: queries.RoomRow, row: queries.MachineRow, **form: Any) -> HttpResponse:
    bound = next(iter(form.values()))
    counts = {"heavy": row.letters.count("H"), "medium": row.letters.count("M"), "light": row.letters.count("L")}
    context = {
        "room": room,
        "machine": row,
        "springs_form": forms.SpringsForm(initial=counts),
        "away_form": forms.AwayForm(initial=_away_from(room.zone)),
        "shut": [
            (key, zones.reading(span.start, room.zone), zones.reading(span.end, room.zone), why)
            for key, span, why in row.shut
        ],
    }
    return render(request, "scheduling/machine.html", context | form, status=422 if bound.errors else 200)


def _teacher_page(request: HttpRequest, row: queries.TeacherRow, **form: Any) -> HttpResponse:
    bound, zone = next(iter(form.values())), _zone()
    context = {
        "row": row,
        "form": forms.TeacherForm(teacher=row, studios=queries.studio_choices()),
        "away_form": forms.AwayForm(initial=_away_from(zone)),
        "off": [
            (key, zones.reading(span.start, zone), zones.reading(span.end, zone), why) for key, span, why in row.off
        ],
    }
    return render(request, "scheduling/instructor.html", context | form, status=422 if bound.errors else 200)


def _away_from(zone: ZoneInfo) -> dict[str, Any]:
    tomorrow = zones.local_day(timezone.now(), zone) + timedelta(days=1)
    return {"first_day": tomorrow, "starts": "00:00", "last_day": tomorrow, "ends": "23:59"}


def _zone() -> ZoneInfo:
    houses = queries.houses()
    return houses[0].zone if houses else ZoneInfo("UTC")
