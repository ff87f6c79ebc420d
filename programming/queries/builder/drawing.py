"""The spring rail of a draft: its strands, what can be touched on it, and the names over it."""

from programming.queries.builder.views import RailDrawing, RailMark, RailName, Read
from programming.rules import building
from programming.rules.marks import Decision
from programming.rules.rail import Rail, RailLine, rail
from programming.rules.springs import SpringSet

# Letters that fit over a stretch of the rail, for each percent of it.
LETTERS_A_PERCENT = 1.5


def drawing(read: Read) -> RailDrawing:
    """The whole rail of a lesson; a line in its easier form is sheathed."""
    drawn = [
        RailLine(
            planned_id=line.planned_id,
            label=building.short_name(line.row),
            # A block is named once, also where its neighbour has the same name.
            group=f"{draft.block}",
            apparatus=line.row.apparatus,
            decision=Decision.ADAPTED if draft.adapted else Decision.AS_PLANNED,
            seconds=each.seconds,
            springs=SpringSet.of(read.letters[line.planned_id]) if read.letters[line.planned_id] else None,
        )
        for draft, line, each in zip(read.state.lines, read.lines, read.sums.lines, strict=True)
    ]
    whole = rail(drawn, slot_seconds=read.sums.slot, arrival=read.times.arrival, close=read.times.close)
    return RailDrawing(
        rail=whole,
        marks=_marks(read, whole),
        names=_names(read, whole),
        slot_at=100 - whole.over,
        told=_told(read),
    )


def _marks(read: Read, whole: Rail) -> tuple[RailMark, ...]:
    worst: dict[int, str] = {}
    for one in read.findings:
        if one.is_open:
            worst[one.key] = "block" if one.blocks or worst.get(one.key) == "block" else "warn"
    return tuple(
        RailMark(
            key=draft.key,
            says=f"{segment.label}, minute {segment.minute:.0f}",
            start=segment.start,
            width=segment.width,
            state=worst.get(draft.key, ""),
            is_open=draft.key == read.looking.open_key,
            adapted=draft.adapted,
        )
        for draft, segment in zip(read.state.lines, whole.segments, strict=True)
    )


def _names(read: Read, whole: Rail) -> tuple[RailName, ...]:
    """The series over their stretch, in two rows in turn; cut to what fits before the next name of the row."""
    first = {str(block[0].block): read.repertoire[block[0].exercise_id] for block in building.blocks(read.state.lines)}
    found = []
    for place, bracket in enumerate(whole.brackets):
        after = whole.brackets[place + 2].start if place + 2 < len(whole.brackets) else 100.0
        room = max(after - bracket.start - 0.5, 0.0)
        letters = int(room * LETTERS_A_PERCENT)
        row = first[bracket.label]
        single = sum(str(line.block) == bracket.label for line in read.state.lines) == 1
        name = row.exercise if single else row.series
        label = name if len(name) <= letters else f"{name[: letters - 1]}…" if letters > 3 else ""
        found.append(RailName(label, bracket.start, bracket.start + max(bracket.width - 0.3, 0.1), room, place % 2))
    return tuple(found)


def _told(read: Read) -> str:
    minutes = f"{read.sums.seconds / 60:.0f} of {read.state.about.minutes} minutes"
    return (
        f"The template as a spring rail: {len(read.lines)} lines in their order over {minutes}; under each hang as "
        "many strands as springs. The list below says the same in words."
    )
