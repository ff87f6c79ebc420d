"""The product's settings for a test's own web server: static files go by their plain names, and none is collected."""

from studio.settings import *  # noqa: F403
from studio.settings import STORAGES as COLLECTED

STORAGES = COLLECTED | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
