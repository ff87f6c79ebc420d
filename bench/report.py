"""The result as a table for people and as JSON, ratios first; kept in the repository."""

import json
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from bench.measure import Found

HERE = Path(__file__).resolve().parent
WORDS = {True: "met", False: "NOT met", None: ""}
FOREWORD = """\
# The last run of `make bench`

{cores} cores, PostgreSQL {postgres} (fsync {fsync}), {day}. Milliseconds depend on the machine and on what else it does
at the time; ratios were taken in one run, each side in turn.

"""


def number(value: float) -> str:
    if value == int(value):
        return f"{value:,.0f}"
    return f"{value:,.2f}" if abs(value) < 100 else f"{value:,.0f}"


def in_order(found: list[Found]) -> list[Found]:
    """Ratios, then the other values with a goal, then the rest."""
    return sorted(found, key=lambda one: (one.unit != "×", one.goal is None))


def rows(found: list[Found]) -> list[tuple[str, str, str, str]]:
    out = []
    for one in in_order(found):
        goal = "" if one.goal is None else f"{one.how} {number(one.goal)}"
        out.append((one.what, f"{number(one.value)} {one.unit}".strip(), goal, WORDS[one.met]))
    return out


def table(found: list[Found]) -> str:
    lines = [("measure", "value", "goal", "met"), *rows(found)]
    widths = [max(len(line[column]) for line in lines) for column in range(4)]
    lines.insert(1, ("-" * widths[0], "-" * widths[1], "-" * widths[2], "-" * widths[3]))
    words = (
        f"| {what:<{widths[0]}} | {value:>{widths[1]}} | {goal:>{widths[2]}} | {met:<{widths[3]}} |"
        for what, value, goal, met in lines
    )
    return "\n".join(words)


def keep(found: list[Found], about: Mapping[str, str]) -> None:
    """Write last_result.md and last_result.json."""
    facts = {**about, "day": date.today().isoformat()}
    (HERE / "last_result.md").write_text(FOREWORD.format(**facts) + table(found) + "\n", encoding="utf-8")
    measures = [
        {"what": one.what, "value": round(one.value, 4), "unit": one.unit, "goal": one.goal, "met": one.met}
        for one in in_order(found)
    ]
    kept = json.dumps({**facts, "measures": measures}, indent=1, ensure_ascii=False)
    (HERE / "last_result.json").write_text(kept + "\n", encoding="utf-8")
