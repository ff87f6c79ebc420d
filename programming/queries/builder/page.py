"""The builder's page read whole: five reads and the rules, whatever the number of lines."""

from collections.abc import Sequence
from uuid import UUID

from clients.models import Demand
from programming import models
from programming.queries import drafts, machines
from programming.queries import repertoire as repertoire_queries
from programming.queries.builder.drawing import drawing
from programming.queries.builder.views import (
    BlockView,
    BuilderView,
    ExposureView,
    FindingView,
    Head,
    LineEdit,
    LineView,
    Looking,
    Read,
)
from programming.queries.programs import clock
from programming.rules import building, validation
from programming.rules.building import DraftLine, LineSums, Sums, counts, standing, telling
from programming.rules.lines import Line, reps_words, whole_exercises
from programming.rules.springs import SpringSet, own_springs, translate
from programming.rules.timing import Slot
from scheduling import models as scheduling_models
from studio.rules import ApparatusKind

REFORMER = ApparatusKind.REFORMER


def builder(template_id: UUID, looking: Looking) -> BuilderView:
    """The whole page of one template. Raises Template.DoesNotExist; a machine that is not there counts as none."""
    template = models.Template.objects.select_related("made_by", "decided_by").get(pk=template_id)
    machine = _machine(looking.machine_id)
    read = _read(template, machine, looking)
    undo, redo = drafts.ways_back(template_id) if template.state == models.Template.State.DRAFT else (None, None)
    return BuilderView(
        head=_head(template),
        blocks=_blocks(read),
        drawing=drawing(read),
        sums=read.sums,
        findings=read.findings,
        exposure=_exposure(read.sums),
        machine=machine,
        machines=_reformers(),
        looking=looking,
        undo=undo,
        redo=redo,
        times=_clocks(read.sums),
    )


def head(template_id: UUID) -> Head:
    """The template itself, without its lines; one query. Raises Template.DoesNotExist."""
    template = models.Template.objects.select_related("made_by", "decided_by").get(pk=template_id)
    return _head(template)


def _read(template: models.Template, machine: machines.Machine | None, looking: Looking) -> Read:
    state, repertoire = drafts.state_of(template), repertoire_queries.exercises()
    gone = {line.exercise_id for line in state.lines} - repertoire.keys()
    repertoire |= repertoire_queries.known_exercises(gone) if gone else {}
    lines, times = building.as_lines(state.lines, repertoire), repertoire_queries.times()
    ceilings = validation.ceilings_from(models.RepertoireTable.objects.get(name="exposure_ceilings").rows)
    inventory = (machine.springs or SpringSet()) if machine else None
    found = validation.report(
        lines, repertoire, times, slot=Slot(state.about.minutes * 60), pace=looking.pace, inventory=inventory
    )
    return Read(
        state=state,
        lines=lines,
        repertoire=repertoire,
        times=times,
        sums=building.sums(lines, times, minutes=state.about.minutes, pace=looking.pace, ceilings=ceilings),
        findings=_findings(found, lines, state.stands),
        letters=_letters(lines, inventory),
        looking=looking,
    )


def _machine(machine_id: int | None) -> machines.Machine | None:
    if machine_id is None or not scheduling_models.Apparatus.objects.filter(pk=machine_id).exists():
        return None
    found = machines.machine(machine_id)
    return found if found.kind is REFORMER else None


def _reformers() -> tuple[tuple[int, str], ...]:
    rows = scheduling_models.Apparatus.objects.filter(kind=REFORMER.value, in_service_to=None)
    return tuple(rows.order_by("studio__name", "label").values_list("pk", "label"))


def _head(template: models.Template) -> Head:
    return Head(
        id=template.pk,
        about=drafts.about_of(template),
        version=template.version,
        state=template.state,
        revision=template.revision,
        made_by=template.made_by.name if template.made_by else "",
        made_at=template.made_at,
        answer=template.answer,
        decided_by=template.decided_by.name if template.decided_by else "",
        copied_from=template.copied_from_id,
    )


def _findings(
    found: Sequence[validation.Finding], lines: Sequence[Line], stands: Sequence[drafts.Stand]
) -> tuple[FindingView, ...]:
    names = {line.planned_id: (no, building.short_name(line.row)) for no, line in enumerate(lines, 1)}
    reasons = {(one.rule, one.key): one for one in stands}
    out = []
    for one in found:
        no, name = names.get(one.line or "", (0, ""))
        reason = reasons.get((one.rule, standing.key_of(one)))
        blocks = one.severity is validation.Severity.BLOCK
        stood = reason.reason if reason and not blocks else ""
        says = one.says[:1].upper() + one.says[1:]
        out.append(FindingView(one.rule, blocks, says, standing.key_of(one), no, name, stood))
    return tuple(sorted(out, key=lambda one: (not one.blocks, bool(one.stands), int(one.rule[1:]), one.no)))


def _letters(lines: Sequence[Line], inventory: SpringSet | None) -> dict[str, str]:
    """Springs by line: on the chosen machine, else as many alike ones (M) as the reference counts."""
    out: dict[str, str] = {}
    for run in whole_exercises(lines):
        if run[0].row.apparatus is not REFORMER or inventory is None or not inventory.count:
            out |= {line.planned_id: _own(line) for line in run}
            continue
        sets = translate([line.springs or 0 for line in run], inventory).sets
        out |= {line.planned_id: hooked.letters for line, hooked in zip(run, sets, strict=True)}
    return out


def _own(line: Line) -> str:
    if line.springs is None:
        return ""
    return "M" * line.springs if line.row.apparatus is REFORMER else own_springs(line.row, line.springs).letters


def _blocks(read: Read) -> tuple[BlockView, ...]:
    views = _lines(read)
    out, start = [], 0
    for block in building.blocks(read.state.lines):
        mine = views[start : start + len(block)]
        start += len(block)
        seconds = sum(one.seconds for one in read.sums.lines[start - len(block) : start])
        series = list(dict.fromkeys(one.row.series for one in mine))
        name = series[0] if len(series) == 1 else f"{series[0]} and more"
        out.append(BlockView(name, tuple(mine), clock(seconds)))
    return tuple(out)


def _lines(read: Read) -> list[LineView]:
    out = []
    for place, (draft, line, each) in enumerate(zip(read.state.lines, read.lines, read.sums.lines, strict=True)):
        before = read.lines[place - 1] if place else None
        out.append(_line(read, draft, line, each, place + 1, before))
    return out


def _line(read: Read, draft: DraftLine, line: Line, each: LineSums, no: int, before: Line | None) -> LineView:
    return LineView(
        draft=draft,
        row=line.row,
        no=no,
        begins=clock(each.begins),
        lasts=clock(each.seconds),
        springs=line.springs,
        letters=read.letters[line.planned_id],
        reps=reps_words(line.row, draft.reps),
        change=telling.to_change(before, line),
        own=tuple(telling.setting_words(key, value) for key, value in draft.setup.items()),
        findings=tuple(one for one in read.findings if one.key == draft.key),
        edit=_edit(read, line) if draft.key == read.looking.open_key else None,
    )


def _edit(read: Read, line: Line) -> LineEdit:
    row = line.row
    setup = tuple(
        (key, telling.key_words(key), line.setup.get(key, ""), tuple((one, telling.value_words(one)) for one in known))
        for key, known in counts.setup_choices(read.repertoire, row).items()
    )
    return LineEdit(
        springs=line.springs,
        springs_low=row.springs_min or 0,
        springs_high=row.springs_max or row.springs_usual or 0,
        springs_usual=row.springs_usual,
        fewer_springs=row.spring_effect.fewer_springs,
        has_sides=row.side_factor > 1,
        setup=setup,
    )


def _clocks(sums: Sums) -> dict[str, str]:
    return {"lasts": clock(sums.seconds), "spare": clock(abs(sums.spare)), "rounding": clock(sums.flow.flexion_seconds)}


def _exposure(sums: Sums) -> tuple[ExposureView, ...]:
    names = dict(Demand.objects.values_list("code", "name"))
    return tuple(
        ExposureView(
            names.get(one.demand, one.demand), clock(one.seconds), clock(one.ceiling.seconds), one.ceiling.is_run,
            one.is_over,
        )
        for one in sums.exposure
    )  # fmt: skip
