"""Files that are sent here stay in memory: nothing of them touches a disk before an action has sealed it."""

from typing import Any

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadhandler import MemoryFileUploadHandler


class InMemory(MemoryFileUploadHandler):
    def handle_raw_input(
        self, input_data: Any, META: dict[str, Any], content_length: int, boundary: str, encoding: str | None = None
    ) -> None:
        """Raises RequestDataTooBig before anything is read, for a request larger than a letter may be."""
        if content_length > settings.UPLOAD_MOST:
            raise RequestDataTooBig("more than a letter may be")
        self.activated = True
