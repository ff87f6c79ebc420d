from studio.pages.errors import bad_request, broken, csrf_failure, not_allowed, not_found
from studio.pages.health import healthz
from studio.pages.home import home, office

__all__ = ["bad_request", "broken", "csrf_failure", "healthz", "home", "not_allowed", "not_found", "office"]
