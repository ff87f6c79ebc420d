"""The front door: the studio's own routes, then each app's, known by string only."""

from django.urls import include, path
from drf_spectacular.views import SpectacularJSONAPIView

from studio import pages
from studio.doors import everyone, public

handler400 = "studio.pages.bad_request"
handler403 = "studio.pages.not_allowed"
handler404 = "studio.pages.not_found"
handler500 = "studio.pages.broken"

studio_routes = [
    path("healthz", public(pages.healthz), name="healthz"),
    path("api/schema.json", everyone(SpectacularJSONAPIView.as_view()), name="api-schema"),
]

urlpatterns = [
    path("", include((studio_routes, "studio"))),
    path("", include("clients.urls")),
    path("", include("scheduling.urls")),
    path("", include("programming.urls")),
]
