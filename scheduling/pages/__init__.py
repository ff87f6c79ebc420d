"""Scheduling's pages, split by what they show."""

from scheduling.pages.day import changes, day_sheet
from scheduling.pages.leaving import leave
from scheduling.pages.office import client_panel, home_desk, home_desk_side, home_owner, load_panel, use, use_panel
from scheduling.pages.openings import book, openings, who
from scheduling.pages.places import bring_back_lesson, cancel_lesson, mark, move, place, take_back, undo
from scheduling.pages.setup import (
    add_machine,
    add_room,
    back_in_service,
    end_time_off,
    hand_over,
    instructor,
    machine,
    machines,
    out_of_service,
    setup_machines,
    time_off,
)

__all__ = [
    "add_machine",
    "add_room",
    "back_in_service",
    "book",
    "bring_back_lesson",
    "cancel_lesson",
    "changes",
    "client_panel",
    "day_sheet",
    "end_time_off",
    "hand_over",
    "home_desk",
    "home_desk_side",
    "home_owner",
    "instructor",
    "leave",
    "load_panel",
    "machine",
    "machines",
    "mark",
    "move",
    "openings",
    "out_of_service",
    "place",
    "setup_machines",
    "take_back",
    "time_off",
    "undo",
    "use",
    "use_panel",
    "who",
]
