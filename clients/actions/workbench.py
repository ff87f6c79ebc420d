"""Versions of the rules: proposed, read over by a licensed professional, put in force in somebody's name."""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction

from clients import models, queries
from clients.actions import locks, reference, runs
from clients.queries import runs as run_queries
from clients.queries import versions as version_queries
from clients.rules import reference as rules
from clients.rules import versions as version_rules
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused

CSV = ".csv"


def propose_row(
    base_id: int,
    *,
    table: str,
    key: str,
    values: Mapping[str, str],
    note: str,
    by: studio_models.Person,
    now: datetime,
) -> models.RuleSet:
    """A new version: that of `base_id` with other cells in one row. Nothing is put in force.

    Raises Refused `unknown_row`, `as_it_is`, `say_what`, and `broken_reference` with the faults' columns in words.
    """
    tables = version_queries.tables_of(base_id)
    if version_rules.row_at(tables, table, key) is None:
        raise Refused(Reason("unknown_row", "There is no such row in this version."))
    cleaned = {column: " ".join(cell.split()) for column, cell in values.items()}
    return _propose(version_rules.with_row(tables, table, key, cleaned), note=note, base_id=base_id, by=by, now=now)


def propose_tables(
    base_id: int, *, files: Mapping[str, bytes], note: str, by: studio_models.Person, now: datetime
) -> models.RuleSet:
    """A new version: that of `base_id` with the uploaded tables (by file name, "limits.csv") in place of its own.

    Raises Refused with every fault by file, line and reason; then nothing was kept.
    """
    tables = {name: list(rows) for name, rows in version_queries.tables_of(base_id).items()}
    found: list[rules.Fault] = []
    for file_name, content in files.items():
        name = file_name.removesuffix(CSV)
        if name not in rules.CLINICAL_TABLES or not file_name.endswith(CSV):
            known = ", ".join(f"{one}{CSV}" for one in rules.CLINICAL_TABLES)
            raise Refused(Reason("unknown_table", f"{file_name[:60]} is not a table of the rules.", "tables", known))
        rows, faults = version_rules.table_from(name, content)
        tables[name], found = list(rows), found + faults
    if found:
        raise Refused([_broken(fault) for fault in found[:50]])
    return _propose(tables, note=note, base_id=base_id, by=by, now=now)


def review_version(
    version_id: int, *, name: str, profession: str, on: date, what: str, by: studio_models.Person, now: datetime
) -> models.RuleSet:
    """Record that a licensed professional has read a version over; an earlier review stays in the audit trail.

    Raises Refused `say_what` for a missing word, `in_the_future` for a day to come.
    """
    words = {"name": name, "profession": profession, "what": what}
    words = {field: " ".join(text.split()) for field, text in words.items()}
    says = "A review names who, which profession and what was read."
    if missing := [Reason("say_what", says, field=field) for field, text in words.items() if not text]:
        raise Refused(missing)
    if on > queries.house_day(now):
        raise Refused(Reason("in_the_future", "That day is still to come. Choose one in the past.", "on"))
    with transaction.atomic():
        row = models.RuleSet.objects.defer("tables").select_for_update().get(pk=version_id)
        row.reviewed_by, row.profession = words["name"][:120], words["profession"][:120]
        row.reviewed_on, row.reviewed_what = on, words["what"][:300]
        row.save(update_fields=["reviewed_by", "profession", "reviewed_on", "reviewed_what"])
        detail = {**words, "on": on.isoformat()}
        audit.wrote("review_rules", row, by=by, now=now, detail=detail)
    return row


def put_in_force(version_id: int, *, why: str, by: studio_models.Person, now: datetime) -> models.RuleRun:
    """Put a version in force in somebody's name, and screen every active client anew; an older one in the same way.

    Raises Refused `say_why`, `in_force`, and `not_compared` while this very version was not compared on every client
    since the rules were last changed.
    """
    why = runs.said(why)
    with transaction.atomic():
        locks.alone(reference.LOAD)
        row = models.RuleSet.objects.select_for_update().get(pk=version_id)
        if row.in_force:
            raise Refused(Reason("in_force", "This version is in force already."))
        if run_queries.comparison_in_time(version_id) is None:
            says = "Compare this version on every client first: nobody knows yet who would change."
            raise Refused(Reason("not_compared", says, allowed="a finished comparison, newer than the last change"))
        if faults := rules.faults(row.tables):
            raise Refused([_broken(fault) for fault in faults[:50]])
        before_id = version_queries.in_force_id()
        reference.take_over(row)
        row.put_in_force_by, row.put_in_force_at = by, now
        row.save(update_fields=["put_in_force_by", "put_in_force_at"])
        audit.wrote("put_in_force", row, by=by, now=now, why=why, detail={"before": before_id})
        return runs.screen_everybody(why=why, by=by, now=now)


def _propose(
    tables: Mapping[str, list[rules.Row]], *, note: str, base_id: int, by: studio_models.Person, now: datetime
) -> models.RuleSet:
    note = " ".join(note.split())[:200]
    if not note:
        raise Refused(Reason("say_what", "Say in a few words what this version is for.", "note", "a few words"))
    if faults := rules.faults(tables):
        raise Refused([_broken(fault) for fault in faults[:50]])
    digest = rules.digest(tables)
    with transaction.atomic():
        locks.alone(reference.LOAD)
        if known := models.RuleSet.objects.filter(digest=digest).first():
            says = f"Nothing in it differs from version {known.pk}."
            raise Refused(Reason("as_it_is", says, allowed="a row that reads otherwise"))
        kept = {name: [dict(row) for row in tables[name]] for name in rules.CLINICAL_TABLES}
        row = models.RuleSet.objects.create(digest=digest, tables=kept, loaded_at=now, note=note, proposed_by=by)
        audit.wrote("propose_rules", row, by=by, now=now, why=note, detail={"base": base_id, "digest": digest})
    return row


def _broken(fault: rules.Fault) -> Reason:
    place = f"{fault.table}{CSV}" + (f", line {fault.line}" if fault.line else "")
    return Reason("broken_reference", f"{place}: {fault.reason}", "tables")
