"""Building a template: a draft, the changes a teacher makes to it, and its sums. No rule of it lives in a page."""

from programming.rules.building.draft import Draft, DraftLine, as_lines, blocks, grouped, short_name
from programming.rules.building.edits import (
    Deed,
    Edit,
    Made,
    Move,
    PutRow,
    PutSeries,
    SetCounts,
    SetWords,
    Touch,
    made,
)
from programming.rules.building.sums import LineSums, Sums, sums

__all__ = [
    "Deed",
    "Draft",
    "DraftLine",
    "Edit",
    "LineSums",
    "Made",
    "Move",
    "PutRow",
    "PutSeries",
    "SetCounts",
    "SetWords",
    "Sums",
    "Touch",
    "as_lines",
    "blocks",
    "grouped",
    "made",
    "short_name",
    "sums",
]
