from studio.pages.errors import bad_request, broken, csrf_failure, not_allowed, not_found
from studio.pages.health import healthz

__all__ = ["bad_request", "broken", "csrf_failure", "healthz", "not_allowed", "not_found"]
