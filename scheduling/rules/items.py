"""Shared items of a studio and the quarter hours they are held for."""

from enum import StrEnum


class ItemKind(StrEnum):
    """What several machines share; the words are those of a set-up's keys."""

    BOX = "box"
    POLE = "pole"
    TOWER_BAR = "tower_bar"
    CHAIR = "chair"

    @property
    def words(self) -> str:
        return self.value.replace("_", " ")


class HoldSource(StrEnum):
    """Who asked for a hold: a hand at the desk, or the times of a program."""

    HAND = "hand"
    PROGRAM = "program"
