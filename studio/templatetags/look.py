"""What templates draw: marks, springs, rails, form fields. Shapes live in `studio/_sprite.html`, colours in the CSS."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from django import template
from django.forms import BoundField
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

register = template.Library()


@dataclass(frozen=True)
class Mark:
    """A shape of the sprite, the word that always stands beside it, and the voice (colour) that seconds it."""

    shape: str
    word: str
    voice: str = ""


MARKS = {
    # a place, and who is at the door
    "booked": Mark("booked", "booked"),
    "here": Mark("here", "here", "pine"),
    "soon": Mark("soon", "soon", "slate"),
    "late": Mark("late", "late", "amber"),
    "cancelled": Mark("cancelled", "cancelled", "soft"),
    "cancelled_late": Mark("cancelled", "cancelled late", "soft"),
    "missed": Mark("missed", "missed", "soft"),
    "new": Mark("new", "new", "plum"),
    "clash": Mark("clash", "clash", "brick"),
    "private": Mark("private", "private"),
    "duet": Mark("duet", "duet"),
    "small_group": Mark("small-group", "small group"),
    # what the desk sees of a health form
    "form_current": Mark("form-current", "form current", "pine"),
    "form_not_current": Mark("form-not-current", "form not current", "amber"),
    "speak": Mark("speak", "speak to the instructor", "amber"),
    # screening outcomes, strictest first
    "emergency": Mark("emergency", "emergency", "brick"),
    "postpone": Mark("postpone", "not today", "brick"),
    "refer": Mark("letter", "letter first", "amber"),
    "incomplete": Mark("form-not-current", "unfinished", "amber"),
    "clear_limited": Mark("limits", "clear with limits", "pine"),
    "clear": Mark("clear", "clear", "pine"),
    # limits
    "avoid": Mark("avoid", "avoid", "brick"),
    "blocked": Mark("avoid", "blocked", "brick"),
    "adapt": Mark("adapt", "adapt", "amber"),
    "watch": Mark("watch", "watch", "slate"),
    # what fitting did
    "planned": Mark("planned", "as planned", "soft"),
    "as_planned": Mark("planned", "as planned", "soft"),
    "adapted": Mark("adapted", "adapted", "amber"),
    "swapped": Mark("swapped", "swapped", "amber"),
    "left_out": Mark("left-out", "left out", "brick"),
    # what the log says
    "done": Mark("here", "done", "pine"),
    "fewer": Mark("fewer", "fewer", "slate"),
    "changed": Mark("changed", "changed", "slate"),
    "skipped": Mark("skipped", "skipped", "amber"),
    # where a client stands with an exercise
    "introduced": Mark("introduced", "introduced", "slate"),
    "working": Mark("working", "working", "slate"),
    "owned": Mark("owned", "owned", "pine"),
    "paused": Mark("paused", "paused", "soft"),
    # papers, springs, the ladder, and the state of a piece of work
    "letter": Mark("letter", "letter", "amber"),
    "due": Mark("due", "due", "amber"),
    "overdue": Mark("due", "overdue", "brick"),
    "easier": Mark("easier", "easier", "pine"),
    "harder": Mark("harder", "harder", "pine"),
    "kept": Mark("here", "kept", "pine"),
    "wrong": Mark("wrong", "to put right", "brick"),
    "note": Mark("note", "note", "slate"),
    "waiting": Mark("soon", "waiting", "slate"),
    "sent": Mark("sent", "sent", "pine"),
    "away": Mark("shut", "away", "soft"),
    "shut": Mark("shut", "out of service", "amber"),
}

# Shapes that carry no state of their own: they stand in buttons and links.
TOOLS = frozenset(
    {"house", "go", "back", "undo", "dusk", "lines", "close", "add", "search", "print", "eye", "person", "down"}
)
SHAPES = TOOLS | {mark.shape for mark in MARKS.values()}
VOICES = frozenset({"", "pine", "slate", "amber", "brick", "plum", "soft"})
SPRINGS = {"L": "light", "M": "medium", "H": "heavy"}


def drawn(shape: str, css: str = "") -> SafeString:
    """Raises LookupError for a shape the sprite does not have."""
    if shape not in SHAPES:
        raise LookupError(f"The sprite has no shape {shape!r}.")
    return format_html(
        '<svg{} viewBox="0 0 16 16" aria-hidden="true"><use href="#i-{}"/></svg>',
        format_html(' class="{}"', css) if css else "",
        shape,
    )


@register.simple_tag
def icon(name: str, css: str = "icon") -> SafeString:
    """The shape alone, for a button or link that has its own word. Takes a shape or the name of a mark."""
    return drawn(MARKS[name].shape if name in MARKS else name, css)


@register.simple_tag
def mark(name: Any, text: Any = None, voice: str | None = None, css: str = "") -> SafeString:
    """A shape and a word. `name` is a key of MARKS; `text` replaces its word, `voice` its colour."""
    kind = MARKS[str(name)]
    spoken = kind.voice if voice is None else voice
    if spoken not in VOICES:
        raise LookupError(f"No voice {spoken!r}: {', '.join(sorted(VOICES))}.")
    classes = " ".join(filter(None, ["mark", spoken and f"v-{spoken}", css]))
    return format_html('<span class="{}">{}{}</span>', classes, drawn(kind.shape), kind.word if text is None else text)


@register.filter
def word_of(name: Any) -> str:
    """The words on the screen for a data key: `clear_limited` reads "clear with limits"."""
    return MARKS[str(name)].word


@register.simple_tag
def springs(letters: str) -> SafeString:
    """Spring labels from letters, heaviest first as given: "HMML"."""
    labels = format_html_join(
        "",
        '<span class="spring {}"><abbr title="{}">{}</abbr></span>',
        ((letter.lower(), SPRINGS[letter], letter) for letter in letters),
    )
    return format_html('<span class="springs">{}</span>', labels)


@register.filter
def heat(percent: Any) -> str:
    """The strength of ink behind a percentage, `h0` (nothing) to `h6`; the cell still carries its number."""
    steps = (1, 25, 45, 65, 80, 92)
    return f"h{sum(float(percent or 0) >= step for step in steps)}"


@register.filter
def undo_url(message: Any) -> str:
    """Where a flash message can be taken back; pages say `extra_tags="undo:/address/"`."""
    for tag in (message.extra_tags or "").split():
        if tag.startswith("undo:/"):
            return tag.removeprefix("undo:")
    return ""


# --- form fields ------------------------------------------------------------------------------------------------------
def shape_of(field: BoundField) -> str:
    widget = field.field.widget
    kind = getattr(widget, "input_type", "") or type(widget).__name__.lower()
    if field.use_fieldset:
        return "group"
    return {"checkbox": "check", "selectmultiple": "many", "file": "file"}.get(kind, "line")


@register.inclusion_tag("studio/_field.html")
def field(bound: BoundField, label: str = "", hint: str = "", css: str = "") -> dict[str, Any]:
    """One form field: label, help, control, and its error beside it, tied together for a screen reader."""
    hint = hint or str(bound.help_text)
    described = [f"{bound.auto_id}_{part}" for part, there in (("helptext", hint), ("error", bound.errors)) if there]
    attrs: dict[str, str | bool] = {"aria-describedby": " ".join(described)} if described else {}
    if bound.errors:
        attrs["aria-invalid"] = "true"
    shape = shape_of(bound)
    return {
        "field": bound,
        "control": bound if shape == "group" else bound.as_widget(attrs=attrs),
        "shape": shape,
        "label": label or bound.label,
        "hint": hint,
        "css": css,
        "described": attrs.get("aria-describedby", ""),
    }


# --- the spring bar of one machine, seen from above -------------------------------------------------------------------
class Hook(Protocol):
    """One spring on the bar: its letter, and `on`, `off`, `unhook` (take it off now) or `hook` (put it on now)."""

    letter: str
    state: str


HOOK_WORDS = {"on": "on", "off": "off", "unhook": "to unhook", "hook": "to hook"}


@register.inclusion_tag("studio/_springbar.html")
def springbar(hooks: Sequence[Hook]) -> dict[str, Any]:
    """The bar with its springs from the foot end, left to right; the coil stays ink, only the deed is pine."""
    step = 302 / max(len(hooks), 1)
    drawings = [
        {
            "x": f"{14 + step * (at + 0.5):.1f}",
            "letter": hook.letter,
            "state": hook.state,
            "weight": hook.letter.lower(),
        }
        for at, hook in enumerate(hooks)
    ]
    told = ", ".join(f"{SPRINGS[hook.letter]} {HOOK_WORDS[hook.state]}" for hook in hooks)
    return {"hooks": drawings, "told": told}


@register.inclusion_tag("studio/_pace.html")
def pace(reps: int, seconds: int, done: int = 0) -> dict[str, Any]:
    """Repetitions, the seconds of one stroke, and a tally of ticks with a gap after each five."""
    ticks = [{"x": f"{6 + at * 19 + at // 5 * 9}", "inked": at < done} for at in range(min(reps, 14))]
    return {"reps": reps, "seconds": seconds, "done": done, "tempo": min(max(seconds, 1), 12), "ticks": ticks}


# --- the spring rail --------------------------------------------------------------------------------------------------
class RailLine(Protocol):
    """One line of a program on the rail, in percent of the lesson's time."""

    start: float
    width: float
    strands: str  # letters of the hooked springs, "" on the mat
    kind: str  # planned, adapted, swapped, left_out


class RailPart(Protocol):
    """A series on the rail: its name and its stretch, in percent of the lesson's time."""

    name: str
    start: float
    width: float


@register.inclusion_tag("studio/_rail_defs.html")
def rail_defs() -> dict[str, Any]:
    """Coils and hatchings that rails refer to: once a page, before the first rail (`base_floor.html` has it)."""
    return {"coils": (("l", "1.7"), ("m", "2.3"), ("h", "3.1"))}


def percent(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") + "%"


def strands_of(line: RailLine, *, spent: bool) -> list[dict[str, Any]]:
    if line.kind == "left_out":
        return []
    if not line.strands:
        return [{"x": percent(line.start + line.width / 2), "weight": "mat", "spent": spent}]
    step = line.width / len(line.strands)
    return [
        {"x": percent(line.start + step * (at + 0.5)), "weight": letter.lower(), "spent": spent}
        for at, letter in enumerate(line.strands)
    ]


def ticks_of(minutes: int) -> list[dict[str, Any]]:
    def long(minute: int) -> int:
        return 8 if minute % 10 == 0 else 5 if minute % 5 == 0 else 2

    return [
        {"x": percent(100 * at / minutes), "long": long(at), "minute": at, "named": at % 10 == 0 or at == minutes}
        for at in range(minutes + 1)
    ]


def placed_parts(parts: Iterable[RailPart]) -> list[dict[str, Any]]:
    """Names alternate between two rows, so that neighbours never touch; a very short part keeps only its bracket."""
    return [
        {
            "name": part.name,
            "x": percent(part.start),
            "end": percent(part.start + part.width),
            "row": at % 2,
            "minor": part.width < 3,
        }
        for at, part in enumerate(parts)
    ]


@register.inclusion_tag("studio/_rail.html")
def rail(
    lines: Sequence[RailLine],
    minutes: int,
    told: str,
    parts: Sequence[RailPart] = (),
    at: int | None = None,
    small: bool = False,
) -> dict[str, Any]:
    """The spring rail. `told` says it in words for a screen reader; `at` is the index of the running line.

    A table with the same facts must stand behind it on the page.
    """
    end = max((line.start + line.width for line in lines), default=0.0)
    here = lines[at] if at is not None and 0 <= at < len(lines) else None
    return {
        "small": small,
        "told": told,
        "ticks": ticks_of(max(minutes, 1)),
        "parts": placed_parts(parts),
        "sleeves": [
            {"kind": line.kind, "x": percent(line.start), "width": percent(line.width)}
            for line in lines
            if line.kind in ("adapted", "swapped")
        ],
        "bare": [percent(line.start) for line in lines if line.kind == "left_out"],
        "strands": [
            strand
            for index, line in enumerate(lines)
            for strand in strands_of(line, spent=at is not None and index < at)
        ],
        "end": percent(min(end, 100)),
        "spare": end < 100,
        "here": {"x": percent(here.start), "width": percent(max(here.width, 0.8))} if here else None,
    }
