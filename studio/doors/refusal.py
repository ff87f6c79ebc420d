"""A refusal that a page did not place beside a field, and a row that is not there, become kind pages and not errors."""

from collections.abc import Callable

from django.core.exceptions import ObjectDoesNotExist
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from studio.rules import Refused


class RefusalMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if isinstance(error, Refused):
            return render(request, "studio/refused.html", {"reasons": error.reasons}, status=409)
        if isinstance(error, ObjectDoesNotExist):
            return render(request, "404.html", status=404)
        return None
