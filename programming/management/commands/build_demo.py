"""Build the demo studio in an empty house: invented people, twelve weeks behind them and four ahead."""

import dataclasses
import json
import os
import time
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from programming.demo import build
from studio.rules import Refused

EVERY_SECONDS = 2


class Command(BaseCommand):
    help = "Build the demo studio, unless there is a house already."

    def handle(self, *args: Any, **options: Any) -> None:
        if build.is_there():
            self.stdout.write("There is a house already; nothing was built.")
            return
        progress = Progress(self)
        try:
            build.build(now=timezone.now(), tell=progress.tell, keep=keep)
        except Refused as refused:
            raise CommandError(f"The demo studio was not built: {refused}") from refused
        progress.end()


class Progress:
    """A line every two seconds: how much of how much is done, and after how many seconds."""

    def __init__(self, command: BaseCommand) -> None:
        self.command, self.started, self.told = command, time.monotonic(), 0.0

    def tell(self, done: int, total: int, what: str) -> None:
        seconds = time.monotonic() - self.started
        if seconds - self.told >= EVERY_SECONDS:
            self.told = seconds
            self.say(f"  {done:,} / {total:,}  {what}  ({seconds:.0f} s)")

    def end(self) -> None:
        self.say(f"  The demo studio stands after {time.monotonic() - self.started:.0f} s.")

    def say(self, text: str) -> None:
        self.command.stdout.write(text)
        self.command.stdout.flush()


def keep(logins: list[build.Login]) -> None:
    """Write the logins where only the owner of this machine's account can read them."""
    path = settings.VAR_DIR / "demo_logins.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.unlink(missing_ok=True)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as out:
        json.dump([dataclasses.asdict(login) for login in logins], out, ensure_ascii=False, indent=1)
