"""The studio's words for what fitting did to a line, what the log says of it, and where a client stands."""

from enum import StrEnum


class Decision(StrEnum):
    """What fitting did to a program line."""

    AS_PLANNED = "as_planned"
    ADAPTED = "adapted"
    SWAPPED = "swapped"
    LEFT_OUT = "left_out"

    @property
    def words(self) -> str:
        return self.value.replace("_", " ")


class Mark(StrEnum):
    """What the log says of a line."""

    DONE = "done"
    FEWER = "fewer"
    CHANGED = "changed"
    SKIPPED = "skipped"

    @property
    def words(self) -> str:
        return self.value


class Standing(StrEnum):
    """Where a client stands with an exercise; never a percentage of the repertoire."""

    INTRODUCED = "introduced"
    WORKING = "working"
    OWNED = "owned"
    PAUSED = "paused"

    @property
    def words(self) -> str:
        return self.value
