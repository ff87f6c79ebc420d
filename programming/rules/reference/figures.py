"""Faults of the tables of figures: springs, times, ceilings, supervision, sizes of bodies."""

import itertools
from collections.abc import Callable, Iterator

from programming.rules.reference.faults import (
    Fault,
    Line,
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
    text,
    unknown_faults,
    whole,
    whole_list,
)

UNITS = {"L": 1, "M": 2, "H": 3}
FORCE_TOLERANCE_N = 0.01
TIME_KEYS = (
    *(f"{what}_{pace}" for what in ("pace", "coaching") for pace in ("fluent", "working", "learning")),
    "arrival",
    "close",
    "new_exercise",
    "slot_default",
    "warn_share",
    "block_share",
    "warm_first",
)


DEFAULTS: dict[str, Shape] = {
    "stiffness_class": one_of("light", "medium", "heavy"),
    "k_n_per_m": decimal(above=0),
    "x0_m": decimal(0),
    "force_at_rest_n": decimal(0),
    "force_at_0_40_m_n": decimal(above=0),
    "relative_units": whole(1),
    "min_k": decimal(above=0),
    "usual_k": decimal(above=0),
    "max_k": decimal(above=0),
    "status": text,
}
TRANSLATION: dict[str, Shape] = {
    "machine": text,
    **{name: whole(0, 12) for name in ("light", "medium", "heavy")},
    "max_units": whole(1),
    "reference_count": whole(1),
    "target_units": whole(1),
    "exact_sets": anything,
    "near_sets": anything,
    "preferred_set": anything,
    "possible": one_of("y", "n"),
}
TIMES: dict[str, Shape] = {"key": text, "value": decimal(0), "unit": text, "applies_to": text}
CEILINGS: dict[str, Shape] = {
    "demand": text,
    "ceiling_seconds": decimal(above=0),
    "per": one_of("lesson", "unbroken run of rows"),
    "applies_when": text,
}
SUPERVISION: dict[str, Shape] = {
    "people": whole(1),
    "figures": whole_list(1),
    "total": whole(1),
    "limit": whole(1),
    "passes": one_of("y", "n"),
}
RATIOS: dict[str, Shape] = {
    "segment": text,
    "kind": one_of("height", "length", "breadth"),
    "sex": one_of("all", "female", "male"),
    "ratio_to_stature": decimal(above=0),
    **{name: maybe(decimal(above=0)) for name in ("mean_mm", "sd_mm", "p5_mm", "p50_mm", "p95_mm")},
    "how_checked": one_of("read", "secondary", "memory", "computed", "assumption"),
}
REGRESSION: dict[str, Shape] = {
    "measure": text,
    "sex": one_of("female", "male"),
    "intercept_mm": decimal(),
    "slope_per_mm": decimal(above=0),
    "see_mm": decimal(above=0),
    "r2": decimal(above=0),
}


def table_faults(
    tables: Tables,
    name: str,
    shapes: dict[str, Shape],
    key: list[str],
    relations: Callable[[Line], Iterator[Fault]] | None = None,
) -> Iterator[Fault]:
    """Shape, key and sources of one table, then its own relations on every line whose shape is sound."""
    shaped = list(shape_faults(tables, name, shapes))
    yield from shaped
    if any(fault.line == 1 for fault in shaped):
        return
    yield from key_faults(tables, name, key)
    yield from source_faults(tables, name)
    broken = {fault.line for fault in shaped}
    for line in lines(tables, name):
        if relations and line.number not in broken:
            yield from relations(line)


def figure_faults(tables: Tables) -> Iterator[Fault]:
    demands = column_values(tables, "demands", "code")
    yield from table_faults(tables, "springs_default", DEFAULTS, ["stiffness_class"], _default_faults)
    yield from table_faults(
        tables, "spring_translation", TRANSLATION, ["machine", "reference_count"], _translation_faults
    )
    yield from table_faults(tables, "session_time", TIMES, ["key"])
    for missing in sorted(set(TIME_KEYS) - column_values(tables, "session_time", "key")):
        yield Fault("session_time", 1, f"no value for {missing}")
    yield from table_faults(
        tables,
        "exposure_ceilings",
        CEILINGS,
        ["demand"],
        lambda line: unknown_faults(line, "demand", demands, "demand"),
    )
    yield from table_faults(tables, "supervision", SUPERVISION, ["figures"], _supervision_faults)
    yield from table_faults(tables, "segment_ratios", RATIOS, ["segment", "kind", "sex"], _ratio_faults)
    yield from table_faults(tables, "leg_length_regression", REGRESSION, ["measure", "sex"], _regression_faults)


def _default_faults(line: Line) -> Iterator[Fault]:
    if not float(line["min_k"]) <= float(line["usual_k"]) <= float(line["max_k"]):
        yield line.fault("stiffness not min <= usual <= max")
    k, x0 = float(line["k_n_per_m"]), float(line["x0_m"])
    for column, travel in (("force_at_rest_n", 0.0), ("force_at_0_40_m_n", 0.4)):
        if abs(k * (x0 + travel) - float(line[column])) > FORCE_TOLERANCE_N:
            yield line.fault(f"{column} does not follow from k and x0")


def _sets_by_error(line: Line) -> tuple[set[str], set[str]]:
    """Sets of the machine's own springs that hit the target, and those one unit off it."""
    exact, near = set(), set()
    stock = (int(line["light"]), int(line["medium"]), int(line["heavy"]))
    for light, medium, heavy in itertools.product(*(range(count + 1) for count in stock)):
        letters = "H" * heavy + "M" * medium + "L" * light
        error = abs(sum(UNITS[letter] for letter in letters) - int(line["target_units"]))
        if letters and error == 0:
            exact.add(letters)
        elif letters and error == 1:
            near.add(letters)
    return exact, near


def _translation_faults(line: Line) -> Iterator[Fault]:
    if int(line["target_units"]) != 2 * int(line["reference_count"]):
        yield line.fault("the target is not twice the reference count")
    most = sum(
        int(line[name]) * UNITS[letter] for name, letter in zip(("light", "medium", "heavy"), "LMH", strict=True)
    )
    if most != int(line["max_units"]):
        yield line.fault("max_units does not follow from the stock")
    exact, near = _sets_by_error(line)
    if exact != set(line.items("exact_sets")) or near != set(line.items("near_sets")):
        yield line.fault("the sets do not follow from the stock")
    if (line["possible"] == "y") != bool(exact | near):
        yield line.fault("the possible flag is wrong")
    if line["preferred_set"] and line["preferred_set"] not in exact | near:
        yield line.fault("the preferred set is not possible")


def _supervision_faults(line: Line) -> Iterator[Fault]:
    figures = [int(item) for item in line.items("figures")]
    if len(figures) != int(line["people"]) or int(line["limit"]) != len(figures) + 2:
        yield line.fault("people and limit do not fit the figures")
    if sum(figures) != int(line["total"]):
        yield line.fault("the total is not the sum of the figures")
    passes = sum(figures) <= len(figures) + 2 and figures.count(3) <= 1
    if passes != (line["passes"] == "y"):
        yield line.fault("the passes flag is wrong")


def _ratio_faults(line: Line) -> Iterator[Fault]:
    marks = [float(line[name]) for name in ("p5_mm", "p50_mm", "p95_mm") if line[name]]
    if marks != sorted(marks):
        yield line.fault("percentiles do not rise")


def _regression_faults(line: Line) -> Iterator[Fault]:
    if float(line["r2"]) > 1:
        yield line.fault(f"r2 is out of range: {line['r2']}")
