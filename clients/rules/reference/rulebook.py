"""The rule book: every clinical table, parsed and indexed, as one value."""

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias, TypeVar

from clients.rules.reference import rows
from clients.rules.reference.rows import decimal, items, whole

Row: TypeAlias = Mapping[str, str]
Tables: TypeAlias = Mapping[str, Sequence[Row]]
Value = TypeVar("Value")

CLINICAL_TABLES = (
    "sources",
    "demands",
    "conditions",
    "limits",
    "acsm_leaves",
    "symptoms",
    "health_questions",
    "red_flags",
    "bp_gates",
    "pregnancy_gates",
    "stop_signs",
    "source_disagreements",
    "review_intervals",
    "measures",
    "measure_norms",
)


@dataclass(frozen=True, eq=False)
class Rulebook:
    """One version of the clinical reference; mappings keep the order of the tables."""

    sources: Mapping[str, rows.Source]
    demands: Mapping[str, rows.Demand]
    conditions: Mapping[str, rows.Condition]
    limits: tuple[rows.LimitRule, ...]
    leaves: tuple[rows.Leaf, ...]
    symptoms: Mapping[str, rows.Symptom]
    questions: Mapping[str, rows.HealthQuestion]
    red_flags: Mapping[str, rows.RedFlag]
    bp_gates: Mapping[str, rows.BpGate]
    pregnancy_gates: Mapping[str, rows.PregnancyGate]
    stop_signs: Mapping[str, rows.StopSign]
    disagreements: Mapping[str, rows.Disagreement]
    intervals: Mapping[str, rows.ReviewInterval]
    measures: Mapping[str, rows.Measure]
    norms: tuple[rows.Norm, ...]

    @classmethod
    def from_tables(cls, tables: Tables) -> "Rulebook":
        """Parse tables that `faults` found clean. Raises KeyError or ValueError on tables that it would refuse."""
        return cls(
            sources=_by("id", tables["sources"], lambda row: rows.Source(**row)),
            demands=_by("code", tables["demands"], lambda row: rows.Demand(**row)),
            conditions=_by("id", tables["conditions"], _condition),
            limits=tuple(_limit(row) for row in tables["limits"]),
            leaves=tuple(_leaf(row) for row in tables["acsm_leaves"]),
            symptoms=_by("id", tables["symptoms"], _symptom),
            questions=_by("id", tables["health_questions"], _question),
            red_flags=_by("id", tables["red_flags"], _red_flag),
            bp_gates=_by("id", tables["bp_gates"], _bp_gate),
            pregnancy_gates=_by("id", tables["pregnancy_gates"], _pregnancy_gate),
            stop_signs=_by("id", tables["stop_signs"], _stop_sign),
            disagreements=_by("id", tables["source_disagreements"], _disagreement),
            intervals=_by("item", tables["review_intervals"], _interval),
            measures=_by("measure", tables["measures"], _measure),
            norms=tuple(_norm(row) for row in tables["measure_norms"]),
        )

    @cached_property
    def limits_by_condition(self) -> Mapping[str, tuple[rows.LimitRule, ...]]:
        """The limits of each condition, in the order of the table."""
        found: dict[str, list[rows.LimitRule]] = {}
        for limit in self.limits:
            found.setdefault(limit.condition_id, []).append(limit)
        return {condition_id: tuple(limits) for condition_id, limits in found.items()}

    @cached_property
    def stages(self) -> tuple[rows.Condition, ...]:
        """The conditions that are stages of a pregnancy, in their order."""
        found = (row for row in self.conditions.values() if row.window_basis is rows.Basis.GESTATION)
        return tuple(sorted(found, key=lambda row: row.window_days_from or 0))

    @cached_property
    def gestation_days(self) -> frozenset[int]:
        """The days of gestation on which a stage or a gate of a pregnancy begins."""
        begins = [row.window_days_from for row in self.stages]
        begins += [gate.from_gestation_day for gate in self.pregnancy_gates.values()]
        return frozenset(day for day in begins if day)

    @cached_property
    def following(self) -> frozenset[str]:
        """Conditions that another one turns into when its window ends."""
        return frozenset(row.next_condition_id for row in self.conditions.values() if row.next_condition_id)

    def strength_of(self, source_ids: Iterable[str]) -> rows.Strength:
        """The best support among the sources; a book or a data set does not count as more than common practice."""
        kinds = {self.sources[source_id].kind for source_id in source_ids}
        return next((one for one in rows.Strength if one.value in kinds), rows.Strength.COMMON_PRACTICE)


def digest(tables: Tables) -> str:
    """The SHA-256 of the clinical tables, in hex: the same rows in the same order give the same digest.

    The order of columns within a row does not matter; tables that are not clinical are left out.
    """
    clinical = {name: [dict(row) for row in tables[name]] for name in CLINICAL_TABLES}
    text = json.dumps(clinical, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _by(key: str, table: Sequence[Row], build: Callable[[Row], Value]) -> dict[str, Value]:
    return {row[key]: build(row) for row in table}


def _symptom(row: Row) -> rows.Symptom:
    return rows.Symptom(
        id=row["id"],
        short_name=row["short_name"],
        question=row["question"],
        action=row["action"],
        source_ids=items(row["source_ids"]),
    )


def _stop_sign(row: Row) -> rows.StopSign:
    return rows.StopSign(
        id=row["id"],
        statement=row["statement"],
        action=row["action"],
        source_ids=items(row["source_ids"]),
    )


def _condition(row: Row) -> rows.Condition:
    return rows.Condition(
        id=row["id"],
        name=row["name"],
        phase_or_window=row["phase_or_window"],
        window_days_from=whole(row["window_days_from"]),
        window_days_to=whole(row["window_days_to"]),
        window_basis=rows.Basis(row["window_basis"]),
        next_condition_id=row["next_condition_id"],
        is_sided=row["sided"] == "y",
        clearance=rows.Clearance(row["clearance"]),
        clearance_when=row["clearance_when"],
        source_ids=items(row["source_ids"]),
        strength=rows.Strength(row["strength"]),
        note=row["note"],
    )


def _limit(row: Row) -> rows.LimitRule:
    return rows.LimitRule(
        condition_id=row["condition_id"],
        demand=row["demand"],
        level=rows.Level(row["level"]),
        how=row["how"],
        source_ids=items(row["source_ids"]),
        strength=rows.Strength(row["strength"]),
    )


def _leaf(row: Row) -> rows.Leaf:
    return rows.Leaf(
        leaf=int(row["leaf"]),
        regularly_active=row["regularly_active"] == "y",
        known_disease=row["known_disease"] == "y",
        symptoms=row["symptoms"] == "y",
        intensity=rows.Intensity(row["intensity"]),
        clearance_needed=row["clearance_needed"],
        clearance_max_age_months=whole(row["clearance_max_age_months"]),
        outcome=row["outcome"],
        bookable=row["bookable"],
        box=row["box"],
        source_ids=items(row["source_ids"]),
    )


def _question(row: Row) -> rows.HealthQuestion:
    return rows.HealthQuestion(
        id=row["id"],
        topic=row["topic"],
        question=row["question"],
        why_we_ask=row["why_we_ask"],
        answer_kind=row["answer_kind"],
        feeds=items(row["feeds"]),
        source_ids=items(row["source_ids"]),
    )


def _red_flag(row: Row) -> rows.RedFlag:
    return rows.RedFlag(
        id=row["id"],
        flag_group=row["flag_group"],
        question=row["question"],
        needs_also=row["needs_also"],
        route=rows.FlagRoute(row["route"]),
        action=row["action"],
        source_ids=items(row["source_ids"]),
    )


def _bp_gate(row: Row) -> rows.BpGate:
    return rows.BpGate(
        id=row["id"],
        population=row["population"],
        sbp_op=row["sbp_op"],
        sbp=whole(row["sbp"]),
        dbp_op=row["dbp_op"],
        dbp=whole(row["dbp"]),
        hr_op=row["hr_op"],
        hr=whole(row["hr"]),
        extra_condition=row["extra_condition"],
        action=row["action"],
        outcome=row["outcome"],
        regime=row["regime"],
        source_ids=items(row["source_ids"]),
    )


def _pregnancy_gate(row: Row) -> rows.PregnancyGate:
    return rows.PregnancyGate(
        id=row["id"],
        level=row["level"],
        list_origin=row["list_origin"],
        statement=row["statement"],
        from_gestation_day=whole(row["from_gestation_day"]),
        action=row["action"],
        outcome=row["outcome"],
        is_on=row["on_by_default"] == "y",
        source_ids=items(row["source_ids"]),
    )


def _disagreement(row: Row) -> rows.Disagreement:
    return rows.Disagreement(
        id=row["id"],
        point=row["point"],
        position_a=row["position_a"],
        sources_a=items(row["sources_a"]),
        position_b=row["position_b"],
        sources_b=items(row["sources_b"]),
        default_rule=row["default_rule"],
    )


def _interval(row: Row) -> rows.ReviewInterval:
    return rows.ReviewInterval(
        item=row["item"],
        trigger=row["trigger"],
        visits=whole(row["visits"]),
        days=whole(row["days"]),
        whichever_first=row["whichever_first"] == "y",
        effect=row["effect"],
        source_ids=items(row["source_ids"]),
    )


def _measure(row: Row) -> rows.Measure:
    return rows.Measure(
        measure=row["measure"],
        unit=row["unit"],
        higher_is_better={"y": True, "n": False}.get(row["higher_is_better"]),
        min=decimal(row["min"]),
        max=decimal(row["max"]),
        decimals=int(row["decimals"]),
        mdc=decimal(row["mdc"]),
        mdc_note=row["mdc_note"],
        important_change=row["important_change"],
        protocol=row["protocol"],
        source_ids=items(row["source_ids"]),
    )


def _norm(row: Row) -> rows.Norm:
    return rows.Norm(
        measure=row["measure"],
        sex=row["sex"],
        age_from=whole(row["age_from"]),
        age_to=whole(row["age_to"]),
        statistic=row["statistic"],
        value=row["value"],
        source_ids=items(row["source_ids"]),
        how_checked=row["how_checked"],
    )
