"""The plain values that papers are made of; a page of typst draws them."""

from collections.abc import Sequence
from math import ceil
from typing import Any

from programming.queries.programs import ProgramLine, ProgramView
from programming.rules import rail
from programming.rules.marks import Decision
from programming.rules.papers import HomeRow
from studio.rules import ApparatusKind, zones


def lesson_card(view: ProgramView) -> dict[str, Any]:
    """A program as its card shows it: the rail in percent, each line in words. No condition and no limit is in it."""
    starts = zones.reading(view.place_starts, view.zone) if view.place_starts else None
    made = zones.reading(view.made_at, view.zone)
    return {
        "client": view.client_name,
        "template": view.template,
        "machine": view.machine,
        "when": f"{starts:%A} {starts.day} {starts:%B %Y}, {starts:%H:%M}" if starts else "",
        "fitted": f"{made.day} {made:%B %Y}, {made:%H:%M}",
        "fitted_by": view.made_by,
        "pace": view.pace.value,
        "minutes": view.minutes,
        "lasts": view.lasts,
        "today_only": view.today_only,
        "is_replaced": view.replaced_at is not None,
        "counts": view.counts,
        "spring_changes": view.spring_changes,
        "rail": {
            "minutes": view.rail.minutes,
            "lines": [
                {"start": one.start, "width": one.width, "strands": one.strands, "kind": one.kind}
                for one in view.rail.lines
            ],
            "parts": [{"name": one.name, "start": one.start, "width": one.width} for one in view.rail.parts],
        },
        "lines": [_line(line) for line in view.lines],
    }


def _line(line: ProgramLine) -> dict[str, Any]:
    return {
        "no": line.no,
        "begins": line.begins,
        "name": line.planned_name if line.is_out else line.name,
        "group": line.group,
        "springs": line.springs,
        "reps": line.reps,
        "lasts": "" if line.is_out else line.lasts,
        "decision": line.decision.value,
        "words": line.decision.words,
        "in_place_of": line.planned_name if line.decision is Decision.SWAPPED else "",
        "form": line.form,
        "setup": list(line.setup),
    }


def home_card(rows: Sequence[HomeRow]) -> dict[str, Any]:
    """The chosen exercises, and their time as a rail of its own."""
    total = sum(row.seconds for row in rows)
    drawn = rail.rail(
        [
            rail.RailLine(row.exercise_id, row.name, row.name, ApparatusKind.MAT, Decision.AS_PLANNED, row.seconds)
            for row in rows
        ],
        slot_seconds=60 * max(1, ceil(total / 60)),
    )
    return {
        "minutes": max(1, round(total / 60)),
        "rail": {
            "minutes": round(drawn.minutes),
            "lines": [
                {"start": one.start, "width": one.width, "strands": "", "kind": one.kind.value}
                for one in drawn.segments
            ],
            "parts": [],
        },
        "lines": [
            {
                "no": at,
                "name": row.name,
                "position": row.position,
                "reps": row.reps if " " in row.reps else f"{row.reps} times",
                "tempo": row.tempo,
                "form": row.form,
            }
            for at, row in enumerate(rows, 1)
        ],
    }
