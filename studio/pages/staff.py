"""The owner's pages about the people who work here."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from studio import forms, queries
from studio.actions import people
from studio.doors import me
from studio.doors.fields import posted
from studio.pages.entry import status_of


def staff(request: HttpRequest) -> HttpResponse:
    return render(request, "studio/staff.html", {"people": queries.staff(), "zone": queries.house_zone()})


def invite(request: HttpRequest) -> HttpResponse:
    form = forms.InviteForm(posted(request))
    if form.carried_out(lambda data: people.invite(**data, by=me(request), now=timezone.now())):
        messages.success(request, f"An invitation is on its way to {form.cleaned_data['name']}.")
        return redirect("studio:staff")
    return render(request, "studio/staff_invite.html", {"form": form}, status=status_of(form))


def person(request: HttpRequest, person_id: int) -> HttpResponse:
    row = queries.person(person_id)
    form = forms.RolesForm(posted(request), initial={"roles": [role.value for role in row.roles]})
    if form.carried_out(
        lambda data: people.change_roles(person_id, roles=data["roles"], by=me(request), now=timezone.now())
    ):
        messages.success(request, f"The roles of {row.name} are kept.")
        return redirect("studio:person", person_id)
    context = {"row": row, "form": form, "leave_url": reverse("scheduling:leave", args=[person_id])}
    return render(request, "studio/person.html", context, status=status_of(form))


@require_POST
def invite_again(request: HttpRequest, person_id: int) -> HttpResponse:
    row = people.invite_again(person_id, by=me(request), now=timezone.now())
    messages.success(request, f"A fresh link is on its way to {row.name}.")
    return redirect("studio:person", person_id)


@require_POST
def come_back(request: HttpRequest, person_id: int) -> HttpResponse:
    row = people.come_back(person_id, by=me(request), now=timezone.now())
    messages.success(request, f"{row.name} is back. A link for a password is on its way.")
    return redirect("studio:person", person_id)


@require_POST
def end_sessions(request: HttpRequest, person_id: int) -> HttpResponse:
    row = people.end_sessions(person_id, by=me(request), now=timezone.now())
    messages.success(request, f"{row.name} is signed out everywhere.")
    return redirect("studio:person", person_id)
