"""Writes of the programs' app, and the readings of health that have to be kept on record."""

from programming.actions.briefs import FloorBrief, open_brief
from programming.actions.logs import (
    check_care,
    finish_as_planned,
    finish_log,
    mark_line,
    mark_place_line,
    mark_rest,
    note_log,
    open_log,
    read_note,
    reopen_log,
    score_line,
    undo_line,
)
from programming.actions.programs import OpenProgram, assign_program, open_program, refit_program
from programming.actions.reference import Preview, load_reference, preview_load
from programming.actions.sheets import open_sheet
from programming.actions.templates import NewLine, load_templates, make_template

__all__ = [
    "FloorBrief",
    "NewLine",
    "OpenProgram",
    "Preview",
    "assign_program",
    "check_care",
    "finish_as_planned",
    "finish_log",
    "load_reference",
    "load_templates",
    "make_template",
    "mark_line",
    "mark_place_line",
    "mark_rest",
    "note_log",
    "open_brief",
    "open_log",
    "open_program",
    "open_sheet",
    "preview_load",
    "read_note",
    "refit_program",
    "reopen_log",
    "score_line",
    "undo_line",
]
