"""A changed rule put in force: every client screened anew by the product's own pass, sealed rows and audit included."""

from collections.abc import Iterator
from copy import copy
from datetime import UTC, datetime, timedelta
from typing import Any, TypeAlias
from uuid import UUID, uuid4

from django.db import connection

from bench import ground
from bench.measure import EXACTLY, Found, timed
from clients import actions, models
from clients.actions import runs, seals
from tests import make_clients
from tests.reference import tables

# The rate is the same for ten thousand; a whole run should not wait for them.
CLIENTS = 2_000
TOLD_EVERY = 2_000
# What the clients tell: nothing, thin bones, a sore wrist, a hip replaced long ago, sugar.
TOLD: tuple[dict[str, list[str]], ...] = (
    {},
    {"H09": ["yes"], "H09.conditions": ["C01"]},
    {"H08": ["yes"], "H08.conditions": ["C38"], "C38.side": ["left"]},
    {"H10": ["yes"], "H10.conditions": ["C26"], "C26.since": ["2024-05-31"], "C26.side": ["right"]},
    {"H03": ["yes"], "H03.conditions": ["C56"]},
)
Opened: TypeAlias = tuple[Any, dict[str, Any]]
NAMES = ("Ada Quillon", "Bertil Oskarin", "Calliope Marr", "Dunstan Weyle", "Elspeth Torrow")


def run() -> list[Found]:
    now = datetime.now(UTC)
    actions.load_reference(tables(), now=now)
    patterns = [_pattern(name, told, now) for name, told in zip(NAMES, TOLD, strict=True)]
    made = ground.step(f"{CLIENTS:,} clients with sealed forms", lambda: _crowd(patterns))
    changed = sum(count for count, told in zip(made, TOLD, strict=True) if "C01" in str(told)) + 1
    make_clients.put_in_force(_stricter())
    pass_over = runs.screen_everybody(why="one limit is stricter", by=None, now=now + timedelta(minutes=2))
    seconds = timed(lambda: _to_the_end(pass_over.pk, now + timedelta(minutes=2)))
    done = models.RuleRun.objects.get(pk=pass_over.pk)
    return [
        Found("re-screening end to end", done.done / seconds, "clients/s"),
        Found("clients looked at, of those there are", done.done / models.Client.objects.count(), "x", 1, EXACTLY),
        Found("clients found changed, of those whose limit is stricter", done.changed / changed, "x", 1, EXACTLY),
    ]


def _pattern(name: str, told: dict[str, list[str]], now: datetime) -> models.Client:
    made = make_clients.client(name, now=now)
    make_clients.signed_form(made, told, signature=name, now=now)
    return made


def _stricter() -> dict[str, list[dict[str, str]]]:
    """The same tables, but lying on the front is adapted with thin bones, no longer only watched."""
    changed = tables()
    (row,) = [row for row in changed["limits"] if (row["condition_id"], row["demand"]) == ("C01", "prone")]
    row["level"] = "adapt"
    return changed


def _crowd(patterns: list[models.Client]) -> list[int]:
    """As many clients as are wanted, each like one of the patterns, under a key and rows of her own."""
    counts = [len(range(number, CLIENTS, len(patterns))) - 1 for number in range(len(patterns))]
    for pattern, count in zip(patterns, counts, strict=True):
        known = _opened(pattern)
        copies = [_copy(pattern, known, number) for number in range(count)]
        for rows in zip(*copies, strict=True):
            rows[0].__class__.objects.bulk_create(rows, batch_size=500)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return counts


def _opened(pattern: models.Client) -> list[Opened]:
    """Form, screening and conditions of a pattern with the words of their sealed columns."""
    rows: list[tuple[Any, tuple[str, ...]]] = [
        (pattern.health_forms.get(), ("sealed_answers",)),
        (pattern.screenings.get(), ("sealed_reasons", "sealed_limits")),
        *((record, ("sealed_fact",)) for record in pattern.conditions.all()),
    ]
    return [(row, {one: seals.opened(row, one, client=pattern) for one in columns}) for row, columns in rows]


def _copy(pattern: models.Client, known: list[Opened], number: int) -> list[Any]:
    who = copy(pattern)
    who.pk = uuid4()
    who.name = who.name_key = f"{pattern.name.lower()} {number}"
    who.wrapped_key = seals.fresh_wrapped_key(who.pk)
    form, *others = [_sealed_like(row, words, who) for row, words in known]
    for row in others:
        row.form = form
    return [who, form, *others]


def _sealed_like(row: Any, words: dict[str, Any], who: models.Client) -> Any:
    made = copy(row)
    made.pk, made.client = uuid4(), who
    for column, held in words.items():
        setattr(made, column, seals.sealed(held, row=made, column=column, client=who))
    return made


def _to_the_end(run_id: UUID, now: datetime) -> None:
    for done in _batches(run_id, now):
        if done % TOLD_EVERY == 0:
            print(f"{done:,}", end=" ", flush=True)


def _batches(run_id: UUID, now: datetime) -> Iterator[int]:
    """What the task does, batch after batch; how many clients are done after each."""
    while runs.go_on(run_id, now=now):
        yield models.RuleRun.objects.values_list("done", flat=True).get(pk=run_id)
