"""Springs in the office: all of the house, those of one machine, and one with its measurements, looks and use."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scheduling.actions import calibrations as calibration_actions
from scheduling.actions import springs as spring_actions
from scheduling.forms import springs as forms
from scheduling.queries import springs as spring_queries
from scheduling.rules.force_line import force_line
from studio.doors import me
from studio.rules import Role, zones


@require_safe
def springs(request: HttpRequest) -> HttpResponse:
    return render(request, "scheduling/springs.html", _all() | {"is_owner": me(request).has_role(Role.OWNER)})


@require_safe
def springs_panel(request: HttpRequest) -> HttpResponse:
    """What of the springs waits to be seen to, for the office."""
    return render(request, "scheduling/_springs_panel.html", _all())


def _all() -> dict[str, Any]:
    machines = spring_queries.machines_with_springs(now=timezone.now())
    return {
        "machines": machines,
        "count": sum(len(machine.springs) for machine in machines),
        "uncalibrated": sum(machine.uncalibrated for machine in machines),
        "to_look_at": [spring for machine in machines for spring in machine.to_look_at],
    }


@require_http_methods(["GET", "HEAD", "POST"])
def spring(request: HttpRequest, spring_id: int) -> HttpResponse:
    """One spring; posting keeps what is written on it and how long it is."""
    page = _page(spring_id)
    form = forms.SpringForm(request.POST or None, initial=_written(page))
    if request.method == "POST" and form.carried_out(lambda data: _keep(request, spring_id, data)):
        messages.success(request, "Kept.")
        return redirect("scheduling:spring", spring_id)
    return _shown(request, page, spring_form=form)


@require_POST
def calibrate(request: HttpRequest, spring_id: int) -> HttpResponse:
    form = forms.CalibrateForm(request.POST)
    kept: list[calibration_actions.Kept] = []
    if not form.carried_out(lambda data: kept.append(_calibrate(request, spring_id, form))):
        return _shown(request, _page(spring_id), calibrate_form=form)
    line = kept[0].line
    messages.success(request, f"Kept: {line.k:.0f} N/m, fit R2 {line.r2:.3f}.")
    for doubt in kept[0].warnings:
        messages.warning(request, f"{doubt.says} {doubt.allowed}")
    return redirect("scheduling:spring", spring_id)


@require_POST
def take_back_calibration(request: HttpRequest, calibration_id: int) -> HttpResponse:
    spring = calibration_actions.take_back_calibration(calibration_id, by=me(request), now=timezone.now())
    undo = reverse("scheduling:bring-back-calibration", args=[calibration_id])
    messages.success(request, "That measurement does not count any more.", extra_tags=f"undo:{undo}")
    return redirect("scheduling:spring", spring.pk)


@require_POST
def bring_back_calibration(request: HttpRequest, calibration_id: int) -> HttpResponse:
    spring = calibration_actions.bring_back_calibration(calibration_id, by=me(request), now=timezone.now())
    messages.success(request, "That measurement counts again.")
    return redirect("scheduling:spring", spring.pk)


@require_POST
def look_at_spring(request: HttpRequest, spring_id: int) -> HttpResponse:
    form = forms.LookForm(request.POST)
    looks: list[Any] = []
    if not form.carried_out(lambda data: looks.append(_look(request, spring_id, data["findings"]))):
        return _shown(request, _page(spring_id), look_form=form)
    undo = reverse("scheduling:take-back-look", args=[looks[0].pk])
    says = (
        "Noted. Take it off before anybody hooks it." if form.cleaned_data["findings"] else "Looked at, nothing found."
    )
    messages.success(request, says, extra_tags=f"undo:{undo}")
    return redirect("scheduling:spring", spring_id)


@require_POST
def take_back_look(request: HttpRequest, look_id: int) -> HttpResponse:
    look = spring_actions.take_back_inspection(look_id, by=me(request), now=timezone.now())
    messages.success(request, "That look does not count.")
    return redirect("scheduling:spring", look.spring_id)


@require_POST
def look_at_machine(request: HttpRequest, apparatus_id: int) -> HttpResponse:
    count = spring_actions.inspect_machine(apparatus_id, by=me(request), now=timezone.now())
    messages.success(request, f"{count} spring{'s' if count != 1 else ''} looked at, nothing found.")
    return redirect(f"{reverse('scheduling:springs')}#machine-{apparatus_id}")


@require_POST
def hang_spring(request: HttpRequest, apparatus_id: int) -> HttpResponse:
    form = forms.HangForm(request.POST)
    hung: list[Any] = []
    by, now = me(request), timezone.now()
    if not form.carried_out(lambda data: hung.append(spring_actions.hang_spring(apparatus_id, **data, by=by, now=now))):
        return _machine_page(request, apparatus_id, hang_form=form)
    undo = reverse("scheduling:take-off-spring", args=[hung[0].pk])
    messages.success(request, "It hangs there, uncalibrated until it is measured.", extra_tags=f"undo:{undo}")
    return redirect("scheduling:machine-springs", apparatus_id)


@require_POST
def replace_spring(request: HttpRequest, spring_id: int) -> HttpResponse:
    form = forms.ReplaceForm(request.POST, auto_id="new_%s")
    new: list[Any] = []
    by, now = me(request), timezone.now()
    if not form.carried_out(lambda data: new.append(spring_actions.replace_spring(spring_id, **data, by=by, now=now))):
        return _shown(request, _page(spring_id), replace_form=form)
    undo = reverse("scheduling:put-back-spring", args=[spring_id])
    messages.success(request, "A new spring hangs there; its history begins today.", extra_tags=f"undo:{undo}")
    return redirect("scheduling:spring", new[0].pk)


@require_POST
def take_off_spring(request: HttpRequest, spring_id: int) -> HttpResponse:
    spring = spring_actions.take_off_spring(spring_id, by=me(request), now=timezone.now())
    undo = reverse("scheduling:put-back-spring", args=[spring_id])
    messages.success(request, "It is off; its history stays.", extra_tags=f"undo:{undo}")
    return redirect("scheduling:machine-springs", spring.apparatus_id)


@require_POST
def put_back_spring(request: HttpRequest, spring_id: int) -> HttpResponse:
    spring_actions.put_back_spring(spring_id, by=me(request), now=timezone.now())
    messages.success(request, "It hangs there again.")
    return redirect("scheduling:spring", spring_id)


@require_POST
def measure_machine(request: HttpRequest, apparatus_id: int) -> HttpResponse:
    kind = spring_queries.springs_of_machine(apparatus_id, now=timezone.now()).kind
    form = forms.MeasuresForm(request.POST, kind=kind)
    by, now = me(request), timezone.now()
    if form.carried_out(lambda data: spring_actions.measure_machine(apparatus_id, measures=data, by=by, now=now)):
        messages.success(request, "Its lengths are kept.")
        return redirect("scheduling:machine-springs", apparatus_id)
    return _machine_page(request, apparatus_id, measures_form=form)


@require_safe
def machine_springs(request: HttpRequest, apparatus_id: int) -> HttpResponse:
    """The springs of one machine with what each pulls, its use and age; and what the machine measures."""
    return _machine_page(request, apparatus_id)


def _machine_page(request: HttpRequest, apparatus_id: int, **form: Any) -> HttpResponse:
    machine = spring_queries.springs_of_machine(apparatus_id, now=timezone.now())
    known = {f"{name}_m": getattr(machine.measures, name) for name in ("bar_to_rest", "foot_above_hip", "track")}
    context = {
        "machine": machine,
        "hang_form": forms.HangForm(),
        "measures_form": forms.MeasuresForm(
            kind=machine.kind, initial={**known, "pedal_ratio": machine.measures.pedal_ratio}
        ),
        "is_owner": me(request).has_role(Role.OWNER),
    }
    bad = any(bound.errors for bound in form.values())
    return render(request, "scheduling/machine_springs.html", context | form, status=422 if bad else 200)


def _page(spring_id: int) -> spring_queries.SpringPage:
    return spring_queries.spring_page(spring_id, now=timezone.now())


def _shown(request: HttpRequest, page: spring_queries.SpringPage, **form: Any) -> HttpResponse:
    row, standing = page.row, page.standing
    found = page.looks[0].findings if page.looks else ()
    context = {
        "page": page,
        "row": row,
        "standing": standing,
        "line": force_line(row.fact.k, row.fact.x0, standing.points if standing else ()),
        "spring_form": forms.SpringForm(initial=_written(page)),
        "calibrate_form": forms.CalibrateForm(initial={"measured_on": zones.local_day(timezone.now(), page.zone)}),
        "look_form": forms.LookForm(initial={"findings": [finding.value for finding in found]}),
        "replace_form": forms.ReplaceForm(auto_id="new_%s"),
        "is_owner": me(request).has_role(Role.OWNER),
    }
    bad = any(bound.errors for bound in form.values())
    return render(request, "scheduling/spring.html", context | form, status=422 if bad else 200)


def _written(page: spring_queries.SpringPage) -> dict[str, Any]:
    return {"serial": page.row.serial, "free_length": page.row.fact.free_length}


def _keep(request: HttpRequest, spring_id: int, data: dict[str, Any]) -> object:
    return spring_actions.keep_spring(
        spring_id, serial=data["serial"], free_length_m=data["free_length"], by=me(request), now=timezone.now()
    )


def _calibrate(request: HttpRequest, spring_id: int, form: forms.CalibrateForm) -> calibration_actions.Kept:
    return calibration_actions.calibrate_spring(
        spring_id,
        points=form.points(),
        instrument=form.cleaned_data["instrument"],
        measured_on=form.cleaned_data["measured_on"],
        by=me(request),
        now=timezone.now(),
    )


def _look(request: HttpRequest, spring_id: int, findings: Any) -> Any:
    return spring_actions.inspect_spring(spring_id, findings=findings, by=me(request), now=timezone.now())
