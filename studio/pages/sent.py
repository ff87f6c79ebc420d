"""What was sent, what waits, and what a person has to settle."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from studio import queries
from studio.actions import notices
from studio.doors import me


def sent(request: HttpRequest) -> HttpResponse:
    context = {"outbox": queries.outbox(now=timezone.now()), "zone": queries.house_zone()}
    return render(request, "studio/sent.html", context)


@require_POST
def send_again(request: HttpRequest, notice_id: UUID) -> HttpResponse:
    notices.send_again(notice_id, by=me(request), now=timezone.now())
    messages.success(request, "It leaves again within a minute.")
    return redirect("studio:sent")


@require_POST
def let_be(request: HttpRequest, notice_id: UUID) -> HttpResponse:
    notices.let_be(notice_id, by=me(request), now=timezone.now())
    messages.success(request, "Let be. It is not sent again.")
    return redirect("studio:sent")
