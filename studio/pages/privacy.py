"""What the house keeps of a client, in words for her: public, and linked from the door of the health form."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe


@require_safe
def privacy(request: HttpRequest) -> HttpResponse:
    return render(request, "studio/privacy.html")
