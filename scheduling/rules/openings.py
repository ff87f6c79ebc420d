"""Openings: every time at which what is wanted is really free, best first, each with its reason in words."""

from collections.abc import Iterator
from datetime import datetime

from scheduling.rules.board import Board, Found
from scheduling.rules.resources import (
    Instructor,
    JoinableLesson,
    Key,
    Machine,
    Opening,
    Resources,
    Studio,
    Wanted,
)

__all__ = [
    "Instructor",
    "JoinableLesson",
    "Key",
    "Machine",
    "Opening",
    "Resources",
    "Studio",
    "Wanted",
    "every_opening",
    "find_openings",
]


def every_opening(wanted: Wanted, resources: Resources, *, now: datetime) -> Iterator[Opening]:
    """Every opening from `now` on, best first: one for each start, teacher and studio, on the best machines free then.

    Starts lie on the grid of `wanted.step` minutes. Time is known to five minutes: what lies across that grid is held
    to be taken as a whole slot. A new duet or small group needs machines for its least number of people, in one room.
    Lessons with free seats are joined at their own times.
    """
    board = Board(wanted, resources, now)
    return (board.opening(found) for found in board.ranked())


def find_openings(wanted: Wanted, resources: Resources, *, now: datetime, limit: int = 12) -> list[Opening]:
    """The best openings, at most `limit`; of those of one teacher that overlap only the best is kept."""
    board = Board(wanted, resources, now)
    kept: list[Found] = []
    for found in board.ranked():
        if len(kept) == limit:
            break
        if not any(one.instructor == found.instructor and abs(one.slot - found.slot) < board.need for one in kept):
            kept.append(found)
    return [board.opening(found) for found in kept]
