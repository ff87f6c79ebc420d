from django.apps import AppConfig


class StudioConfig(AppConfig):
    name = "studio"

    def ready(self) -> None:
        # Loaded here and not in the package, so that importing a rule never loads Celery.
        from studio import celery  # noqa: F401
