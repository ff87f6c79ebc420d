"""What is shown when a page cannot be: kind words to people, plain JSON to programs, never an inside view."""

from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from studio.doors.access import is_api

SAYS = {
    400: "This could not be understood.",
    403: "This is not yours to open.",
    404: "There is no such thing here.",
    413: "That is too much at once.",
    500: "Something broke on our side.",
}


def answer(request: HttpRequest, status: int, template: str = "", **context: object) -> HttpResponse:
    if is_api(request):
        return JsonResponse({"detail": SAYS[status]}, status=status)
    return render(request, template or f"{status}.html", context, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    return answer(request, 413 if isinstance(exception, RequestDataTooBig) else 400)


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    return answer(request, 403, exception=str(exception))


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return answer(request, 404)


def broken(request: HttpRequest) -> HttpResponse:
    return answer(request, 500)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    return answer(request, 403, "403_csrf.html")
