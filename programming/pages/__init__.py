"""Pages of the floor, and of the repertoire in the office."""

from programming.pages.floor import assign, brief, floor, home_floor, templates
from programming.pages.programs import client_panel, program, refit
from programming.pages.repertoire import exercise, reload, repertoire, versions
from programming.pages.run_sheet import finish, mark, note, run_lines, run_sheet, score, undo

__all__ = [
    "assign",
    "brief",
    "client_panel",
    "exercise",
    "finish",
    "floor",
    "home_floor",
    "mark",
    "note",
    "program",
    "refit",
    "reload",
    "repertoire",
    "run_lines",
    "run_sheet",
    "score",
    "templates",
    "undo",
    "versions",
]
