"""Writes of scheduling: book, mark, move, set up. Each is one transaction; a refusal changes nothing."""

from scheduling.actions.booking import book_place
from scheduling.actions.machines import add_apparatus, add_room, bring_back, change_springs, take_out_of_service
from scheduling.actions.marks import (
    complete_place,
    mark_place,
    reopen_place,
    start_lesson,
    take_back_booking,
    undo_place,
)
from scheduling.actions.moving import HandedOver, bring_back_lesson, cancel_lesson, hand_over, move_lesson
from scheduling.actions.reminders import lay_reminders
from scheduling.actions.teachers import add_instructor, add_time_off, change_instructor, end_time_off, leave_house

__all__ = [
    "HandedOver",
    "add_apparatus",
    "add_instructor",
    "add_room",
    "add_time_off",
    "book_place",
    "bring_back",
    "bring_back_lesson",
    "cancel_lesson",
    "change_instructor",
    "change_springs",
    "complete_place",
    "end_time_off",
    "hand_over",
    "lay_reminders",
    "leave_house",
    "mark_place",
    "move_lesson",
    "reopen_place",
    "start_lesson",
    "take_back_booking",
    "take_out_of_service",
    "undo_place",
]
