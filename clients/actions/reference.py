"""The clinical reference: read whole, refused whole, kept in versions."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from clients import models
from clients.actions import locks
from clients.rules import reference
from studio.actions import audit
from studio.rules import Reason, Refused

# One at a time puts rules in force or adds a version.
LOAD = "load_reference"
SHIPPED = "as the files hold it"


@dataclass(frozen=True)
class ReferenceLoaded:
    """What a load did: `is_new` says that these rows were not known before, `is_in_force` that they decide now.

    `rows` counts each table's rows.
    """

    digest: str
    is_new: bool
    is_in_force: bool
    rows: dict[str, int]


def load_reference(tables: reference.Tables, *, now: datetime) -> ReferenceLoaded:
    """Keep these clinical tables as a version of their own; the same tables again change nothing.

    The first version ever is put in force. A later one is only proposed: the owner compares it on every client before
    she puts it in force. Raises Refused with every fault's table and line.
    """
    _refuse_faults(tables)
    digest = reference.digest(tables)
    counts = {name: len(tables[name]) for name in reference.CLINICAL_TABLES}
    with transaction.atomic():
        locks.alone(LOAD)
        if known := models.RuleSet.objects.filter(digest=digest).first():
            return ReferenceLoaded(digest, False, known.in_force, counts)
        is_first = not models.RuleSet.objects.filter(in_force=True).exists()
        _keep(digest, tables, is_first=is_first, now=now)
    return ReferenceLoaded(digest, True, is_first, counts)


def would_change(tables: reference.Tables) -> bool:
    """Whether loading these clinical tables would make a version not known yet. Raises Refused as the load does."""
    _refuse_faults(tables)
    return not models.RuleSet.objects.filter(digest=reference.digest(tables)).exists()


def _refuse_faults(tables: reference.Tables) -> None:
    if found := reference.faults(tables):
        raise Refused([_refusal(fault) for fault in found])


def _refusal(fault: reference.Fault) -> Reason:
    place = f"{fault.table}.csv" + (f", line {fault.line}" if fault.line else "")
    return Reason("broken_reference", f"{place}: {fault.reason}", field=fault.table)


def take_over(rule_set: models.RuleSet) -> None:
    """Make a version the one in force, and its terms the rows that other tables point at; under the lock LOAD."""
    _write_terms(reference.Rulebook.from_tables(rule_set.tables))
    models.RuleSet.objects.filter(in_force=True).update(in_force=False)
    rule_set.in_force = True
    rule_set.save(update_fields=["in_force"])


def _keep(digest: str, tables: reference.Tables, *, is_first: bool, now: datetime) -> None:
    kept = {name: [dict(row) for row in tables[name]] for name in reference.CLINICAL_TABLES}
    note = "" if is_first else SHIPPED
    rule_set = models.RuleSet.objects.create(digest=digest, tables=kept, loaded_at=now, note=note)
    if is_first:
        take_over(rule_set)
    else:
        # Exercises loaded with it may carry a demand that no version in force knows yet.
        _write_demands(reference.Rulebook.from_tables(tables), ignore_conflicts=True)
    audit.wrote("load_reference", rule_set, by=None, now=now, actor="reference loader", detail={"digest": digest})


def _write_terms(rulebook: reference.Rulebook) -> None:
    """Terms that left the tables stay as rows: older screenings point at them."""
    models.Source.objects.bulk_create(
        [models.Source(**vars(row)) for row in rulebook.sources.values()],
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=["citation", "year", "kind", "how_checked", "url_or_doi"],
    )
    _write_demands(
        rulebook,
        update_conflicts=True,
        unique_fields=["code"],
        update_fields=["name", "definition", "tag_if", "not_if", "default_adapt", "position"],
    )
    models.Condition.objects.bulk_create(
        [_condition(row, at) for at, row in enumerate(rulebook.conditions.values())],
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=["name", "phase_or_window", "sided", "next_condition", "position"],
    )
    _write_limit_rules(rulebook.limits)


def _write_demands(rulebook: reference.Rulebook, **where_known: Any) -> None:
    rows = [models.Demand(**vars(row), position=at) for at, row in enumerate(rulebook.demands.values())]
    models.Demand.objects.bulk_create(rows, **where_known)


def _condition(row: reference.Condition, position: int) -> models.Condition:
    return models.Condition(
        id=row.id,
        name=row.name,
        phase_or_window=row.phase_or_window,
        sided=row.is_sided,
        next_condition_id=row.next_condition_id or None,
        position=position,
    )


def _write_limit_rules(rules: Iterable[reference.LimitRule]) -> None:
    models.LimitRule.objects.all().delete()
    models.LimitRule.objects.bulk_create(
        models.LimitRule(
            condition_id=rule.condition_id,
            demand_id=rule.demand,
            level=rule.level.value,
            how=rule.how,
            source_ids=list(rule.source_ids),
            strength=rule.strength.value,
        )
        for rule in rules
    )
