"""Faults of the practice tables: repertoire, ladders, gates of the ladders, repetition pools."""

from collections.abc import Iterator, Mapping
from graphlib import CycleError, TopologicalSorter

from programming.rules.reference.faults import (
    Fault,
    Line,
    Row,
    Shape,
    Tables,
    anything,
    column_values,
    decimal,
    key_faults,
    lines,
    maybe,
    one_of,
    shape_faults,
    source_faults,
    split,
    text,
    unknown_faults,
    whole,
    whole_list,
)
from studio.rules import ApparatusKind

BASIS_FACTOR = {"total": "1", "per_side": "2", "per_direction": "2", "per_side_per_direction": "4"}
STEP_KINDS = ("setup", "regression", "progression", "embellishment", "fault_cue", "stop")


REPERTOIRE: dict[str, Shape] = {
    "id": text,
    "apparatus": one_of(*(kind.value for kind in ApparatusKind)),
    "order_in_apparatus": whole(1),
    "series": text,
    "position_in_series": whole(1),
    "exercise": text,
    "part": anything,
    "springs_usual": maybe(whole(0)),
    "springs_min": maybe(whole(0)),
    "springs_max": maybe(whole(0)),
    "spring_effect": one_of("resist", "assist", "mixed", "fix", "none"),
    "reps_low": whole(1),
    "reps_high": whole(1),
    "reps_basis": one_of(*BASIS_FACTOR),
    "side_factor": whole(1, 4),
    "pattern": text,
    "tempo_seconds_per_rep": decimal(above=0),
    "start_position": text,
    "demands": anything,
    "demands_removable": anything,
    "stretch_joint": anything,
    "level": whole(1, 5),
    "supervision": whole(1, 3),
    "prerequisite_ids": anything,
    "prerequisites": anything,
    "purpose": text,
    "setup_seconds": decimal(0),
    "equipment_setup": text,
    "usual_regression": text,
    "regression_adds": anything,
    "family": text,
    "rep_pool": anything,
    "rep_pool_total": maybe(whole(1)),
    "rep_pool_role": maybe(one_of("donor", "recipient")),
    "rep_pool_min": maybe(whole(1)),
    "origin": text,
    "rtl1945_reps": anything,
    "rtl1945_count": maybe(whole(1)),
    "rtl1945_source": maybe(one_of("read", "memory-high", "memory-low")),
    "note": anything,
}
LADDERS: dict[str, Shape] = {
    "ladder": text,
    "repertoire_ids": text,
    "code": text,
    "kind": one_of(*STEP_KINDS),
    "when_seen": anything,
    "change": text,
    "removes": anything,
    "adds": anything,
    "substitutes_row": anything,
}
GATES: dict[str, Shape] = {"ladder": text, "repeat_while": text, "advance_by": text}
POOLS: dict[str, Shape] = {
    "pool": text,
    "total": whole(1),
    "donor_ids": text,
    "donor_min": whole(0),
    "donor_min_basis": text,
    "recipient_id": text,
    "recipient_min": whole(0),
    "recipient_factor": whole(1, 4),
    "recipient_count": whole(0),
    "donor_total": whole(0),
    "donor_counts": whole_list(0),
    "valid": one_of("y", "n"),
    "reason": anything,
    "source_ids": anything,
}


def repertoire_faults(tables: Tables) -> Iterator[Fault]:
    shapes = list(shape_faults(tables, "repertoire", REPERTOIRE))
    yield from shapes
    if any(fault.line == 1 for fault in shapes):
        return
    yield from key_faults(tables, "repertoire", ["id"])
    demands = column_values(tables, "demands", "code")
    ids = column_values(tables, "repertoire", "id")
    broken = {fault.line for fault in shapes}
    for line in lines(tables, "repertoire"):
        yield from _demand_faults(line, demands)
        yield from unknown_faults_in_groups(line, ids)
        if line.number not in broken:
            yield from _figure_faults(line)
            yield from _pool_column_faults(line)
    yield from circle_faults(tables)


def _demand_faults(line: Line, demands: frozenset[str]) -> Iterator[Fault]:
    for column in ("demands", "demands_removable", "regression_adds"):
        yield from unknown_faults(line, column, demands, "demand")
    tags = line.items("demands")
    if len(tags) != len(set(tags)):
        yield line.fault("a demand is listed twice")
    for item in line.items("demands_removable"):
        if item not in tags:
            yield line.fault(f"removable {item!r} is not a demand of the row")
    if ("stretch_end" in tags) != bool(line["stretch_joint"]):
        yield line.fault("stretch_end and stretch_joint must come together")
    turned_over = {"inversion", "neck_weight"} <= set(tags)
    if turned_over and line["start_position"] == "supine" and "hips_high" not in tags:
        yield line.fault("a lying row with inversion lacks hips_high")


def unknown_faults_in_groups(line: Line, ids: frozenset[str]) -> Iterator[Fault]:
    """In `prerequisite_ids` `;` is and, `|` is or."""
    for group in line.items("prerequisite_ids"):
        for item in group.split("|"):
            if item not in ids:
                yield line.fault(f"unknown prerequisite {item!r}")


def _figure_faults(line: Line) -> Iterator[Fault]:
    if int(line["reps_low"]) > int(line["reps_high"]):
        yield line.fault("repetitions low > high")
    if BASIS_FACTOR[line["reps_basis"]] != line["side_factor"]:
        yield line.fault("side_factor does not fit reps_basis")
    springs = [line[f"springs_{part}"] for part in ("min", "usual", "max")]
    if any(springs) and not all(springs):
        yield line.fault("springs are given in part")
    elif all(springs) and not int(springs[0]) <= int(springs[1]) <= int(springs[2]):
        yield line.fault("springs not min <= usual <= max")


def _pool_column_faults(line: Line) -> Iterator[Fault]:
    columns = [line[name] for name in ("rep_pool", "rep_pool_total", "rep_pool_role", "rep_pool_min")]
    if any(columns) and not all(columns):
        yield line.fault("the repetition pool is given in part")


def circle_faults(tables: Tables) -> Iterator[Fault]:
    """Prerequisites that lead back to themselves: the first circle, on the line of one of its rows."""
    found = lines(tables, "repertoire")
    where = {line["id"]: line for line in found}
    needs = {
        line["id"]: {item for group in line.items("prerequisite_ids") for item in group.split("|") if item in where}
        for line in found
    }
    try:
        TopologicalSorter(needs).prepare()
    except CycleError as circle:
        trail: list[str] = circle.args[1]
        yield where[trail[0]].fault("prerequisite circle: " + " > ".join(reversed(trail)))


def ladder_faults(tables: Tables) -> Iterator[Fault]:
    shapes = list(shape_faults(tables, "ladders", LADDERS))
    yield from shapes
    if any(fault.line == 1 for fault in shapes):
        return
    yield from key_faults(tables, "ladders", ["code"])
    demands = column_values(tables, "demands", "code")
    by_id = {row.get("id", ""): row for row in tables.get("repertoire", ())}
    for line in lines(tables, "ladders"):
        yield from unknown_faults(line, "removes", demands, "demand")
        yield from unknown_faults(line, "adds", demands, "demand")
        rows = [
            *unknown_faults(line, "repertoire_ids", frozenset(by_id), "row"),
            *unknown_faults(line, "substitutes_row", frozenset(by_id), "row"),
        ]
        yield from rows
        if not rows and line["kind"] == "regression" and not line["substitutes_row"]:
            yield from _removal_faults(line, by_id)


def _removal_faults(line: Line, by_id: Mapping[str, Row]) -> Iterator[Fault]:
    """A regression may take away only what one of its rows has and marks removable: the repertoire wins."""
    targets = line.items("repertoire_ids")
    for item in line.items("removes"):
        carriers = [target for target in targets if item in split(by_id[target].get("demands", ""))]
        if not carriers:
            yield line.fault(f"removes {item} which none of its rows has")
        for carrier in carriers:
            if item not in split(by_id[carrier].get("demands_removable", "")):
                yield line.fault(f"removes {item} but {carrier} marks it intrinsic")


def gate_faults(tables: Tables) -> Iterator[Fault]:
    shapes = list(shape_faults(tables, "ladder_gates", GATES))
    yield from shapes
    if any(fault.line == 1 for fault in shapes):
        return
    yield from key_faults(tables, "ladder_gates", ["ladder"])
    ladders = column_values(tables, "ladders", "ladder")
    for line in lines(tables, "ladder_gates"):
        yield from unknown_faults(line, "ladder", ladders, "ladder")
    gated = column_values(tables, "ladder_gates", "ladder")
    for ladder in sorted(ladders - gated):
        yield Fault("ladder_gates", 1, f"ladder {ladder!r} has no gate")


def pool_faults(tables: Tables) -> Iterator[Fault]:
    shapes = list(shape_faults(tables, "pool_rules", POOLS))
    yield from shapes
    if any(fault.line == 1 for fault in shapes):
        return
    yield from key_faults(tables, "pool_rules", ["pool", "recipient_count"])
    yield from source_faults(tables, "pool_rules")
    by_id = {row.get("id", ""): row for row in tables.get("repertoire", ())}
    broken = {fault.line for fault in shapes}
    for line in lines(tables, "pool_rules"):
        if line.number in broken:
            continue
        strangers = [
            line.fault(f"{item} does not belong to pool {line['pool']} with this total")
            for item in (*line.items("donor_ids"), line["recipient_id"])
            if (by_id.get(item, {}).get("rep_pool"), by_id.get(item, {}).get("rep_pool_total"))
            != (line["pool"], line["total"])
        ]
        yield from strangers or _pool_sum_faults(line, by_id)


def _pool_sum_faults(line: Line, by_id: Mapping[str, Row]) -> Iterator[Fault]:
    recipient, donor_total = int(line["recipient_count"]), int(line["donor_total"])
    if donor_total != int(line["total"]) - recipient * int(line["recipient_factor"]):
        yield line.fault("donor_total is not total - recipient")
    donors = line.items("donor_ids")
    counts = [int(item) for item in line.items("donor_counts")]
    factor = by_id[donors[0]].get("side_factor", "")
    if len(counts) != len(donors) or not factor.isdigit() or sum(counts) * int(factor) != donor_total:
        yield line.fault("donor_counts do not add up")
    fits = all(count >= int(line["donor_min"]) for count in counts)
    fits = fits and (recipient == 0 or recipient >= int(line["recipient_min"]))
    if fits != (line["valid"] == "y"):
        yield line.fault("the valid flag does not fit the counts")
