"""Whether this process can do its work: asked by the proxy and by the run command, without a login."""

from django.http import HttpRequest, HttpResponse

from studio import queries


def healthz(request: HttpRequest) -> HttpResponse:
    """200 when the database answers, else a 500. A lost broker stops nothing, so it is not asked."""
    queries.is_set_up()
    return HttpResponse("ok\n", content_type="text/plain")
