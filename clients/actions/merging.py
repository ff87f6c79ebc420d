"""Two cards of one person made one, nothing lost, and the way back.

Every row of every app that names the old card comes to name the kept one. What the merge changed is found by looking
before and after, and is kept sealed with the merge, so that undoing it gives the very same rows.
"""

from collections.abc import Collection, Iterable, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.db import OperationalError, transaction

from clients import models, queries
from clients.actions import joining, screening, seals, trace
from clients.queries import merging as looked_up
from clients.rules import merging as rules
from studio import models as studio_models
from studio import queries as studio_queries
from studio.actions import audit
from studio.rules import Reason, Refused

COLUMNS = tuple(name for field in rules.FIELDS for name in field.columns)
BUSY = Reason("busy", "Somebody is working on one of these cards; nothing was changed.", allowed="Try once more.")
FORM = models.HealthForm._meta.label_lower
SCREENING = models.Screening._meta.label_lower
CARD = models.Client._meta.label_lower
# deadlock_detected, serialization_failure
AGAIN = ("40P01", "40001")


def merge_clients(
    kept_id: UUID,
    gone_id: UUID,
    *,
    choices: Mapping[str, str],
    stay_open: Collection[str] = (),
    by: studio_models.Person | None,
    now: datetime,
) -> models.Merge:
    """Make `gone` a part of `kept`, then screen again.

    `choices` names a side by the key of a field (rules.merging.FIELDS), else the usual one is taken; `stay_open` names
    kinds of consent that only one card has and that stay. Both cards' conditions and limits hold, the stricter wins.
    Raises Refused `same_card`, `merged_already`, `erased`, `overlap`, `unknown_choice`, `too_long`, `busy`.
    """
    with _alone():
        kept, gone = _both(kept_id, gone_id)
        if reasons := _refusals(kept, gone, choices):
            raise Refused(reasons)
        watched = _Watched(kept, gone)
        merge = models.Merge(id=uuid4(), kept=kept, gone=gone, merged_by=by, merged_at=now)
        _join(merge, watched, choices=choices, stay_open=stay_open, by=by, now=now)
        merge.sealed_before = seals.sealed(watched.seen(), row=merge, column="sealed_before", client=kept)
        merge.save(force_insert=True)
        audit.wrote("merge", merge, by=by, now=now, client_key=kept.pk, detail={"gone": str(gone.pk)})
    return merge


def undo_merge(merge_id: UUID, *, by: studio_models.Person | None, now: datetime) -> models.Merge:
    """Two cards again: each row goes back to its card, each field to what it was unless it was changed since.

    What came since the merge stays with the kept card. On another day, or after another screening, both are screened
    anew. Undone already: nothing changes. Raises Refused `merged_on` when the kept card was merged itself, `erased`.
    """
    with _alone():
        merge = models.Merge.objects.get(pk=merge_id)
        kept, gone = _both(merge.kept_id, merge.gone_id)
        merge = models.Merge.objects.select_for_update().get(pk=merge_id)
        if merge.undone_at is not None:
            return merge
        _may_be_undone(kept)
        audit.read("undo_merge", merge, by=by, now=now, client_key=kept.pk)
        before = seals.opened(merge, "sealed_before", client=kept)
        is_as_left = _is_as_left(merge, kept, before["made"], now)
        _part(merge, kept, gone, before)
        merge.undone_at, merge.undone_by = now, by
        merge.save(update_fields=["undone_at", "undone_by"])
        audit.wrote("undo_merge", merge, by=by, now=now, client_key=kept.pk, detail={"gone": str(gone.pk)})
        if not is_as_left:
            _screen_both(kept.pk, gone.pk, by=by, now=now)
    return merge


class _Watched:
    """Both cards with all that names them, as they were before; and what has become of it."""

    def __init__(self, kept: models.Client, gone: models.Client) -> None:
        self.kept, self.gone = kept, gone
        self.contacts = self._leaves()
        self.before = trace.snapshot(self._rows())
        self.sealed_anew: set[tuple[str, str, str]] = set()
        self.moved: dict[str, list[str]] = {}

    def seen(self) -> dict[str, Any]:
        moved = {
            (name.rpartition(".")[0], key, f"{name.rpartition('.')[2]}_id")
            for name in self.moved
            for key in self.moved[name]
        }
        without = frozenset(moved | self.sealed_anew)
        found = trace.between(self.before, trace.snapshot(self._rows()), without=without)
        return {"changed": found.changed, "made": found.made, "visits": self.gone.visits}

    def _rows(self) -> Iterable[Any]:
        ids = [self.kept.pk, self.gone.pk]
        yield from models.Client.objects.filter(pk__in=ids)
        yield from studio_models.Notice.objects.filter(pk__in=self.contacts)
        yield from trace.rows_of(ids)

    def _leaves(self) -> list[UUID]:
        leaves = [queries.leave_for_messages(one.pk) for one in (self.kept, self.gone)]
        waiting = studio_models.Notice.objects.filter(rests_on__in=leaves, state__in=["waiting", "claimed"])
        return list(waiting.select_for_update().values_list("pk", flat=True))


def _join(
    merge: models.Merge,
    watched: _Watched,
    *,
    choices: Mapping[str, str],
    stay_open: Collection[str],
    by: studio_models.Person | None,
    now: datetime,
) -> None:
    kept, gone = merge.kept, merge.gone
    stays = joining.forms(kept, gone) | joining.ceilings(kept, gone) | joining.reviews(kept, gone)
    stood = joining.screenings(kept, gone, now=now)
    joining.consents(kept, gone, stay_open=stay_open, by=by, now=now)
    joining.conditions(kept, gone)
    joining.letter_requests(kept, gone, now=now)
    joining.coming(gone, now=now)
    for pointer in looked_up.pointers():
        if keys := joining.moved(pointer, was=gone.pk, becomes=kept.pk, stays=stays):
            merge.moved[pointer.name] = keys
    watched.moved = merge.moved
    joining.number_forms(kept)
    watched.sealed_anew = joining.seal_anew(kept, was=gone)
    _write_cards(kept, gone, choices, now)
    joining.notices(kept, gone)
    joining.screen(kept, stood, by=by, now=now)


def _write_cards(kept: models.Client, gone: models.Client, choices: Mapping[str, str], now: datetime) -> None:
    for name, value in rules.merged(choices, values_of(kept), values_of(gone)).items():
        setattr(kept, name, value)
    kept.visits += gone.visits
    kept.last_visit = max((day for day in (kept.last_visit, gone.last_visit) if day), default=None)
    if kept.photograph_id and queries.open_consent(kept.pk, models.Consent.Kind.PHOTOGRAPHS) is None:
        kept.photograph_id = None
    kept.save()
    models.Client.objects.filter(pk=gone.pk).update(merged_into=kept, archived_at=now)


def values_of(client: models.Client) -> dict[str, object]:
    """The columns of a card that are chosen between."""
    return {name: getattr(client, name) for name in COLUMNS}


def _both(kept_id: UUID, gone_id: UUID) -> tuple[models.Client, models.Client]:
    """Both cards, locked in the order of their keys."""
    rows = models.Client.objects.select_for_update(of=("self",)).select_related("home", "contact")
    found = {row.pk: row for row in rows.filter(pk__in=[kept_id, gone_id]).order_by("pk")}
    if missing := {kept_id, gone_id} - found.keys():
        raise models.Client.DoesNotExist(f"no client {sorted(map(str, missing))}")
    return found[kept_id], found[gone_id]


def _refusals(kept: models.Client, gone: models.Client, choices: Mapping[str, str]) -> list[Reason]:
    if kept.pk == gone.pk:
        return [Reason("same_card", "That is this very card.", "other", "another card")]
    for one in (kept, gone):
        if one.erased_at is not None:
            return [Reason("erased", "One of these cards was erased.", "other", "another card")]
        if one.merged_into_id is not None:
            return [Reason("merged_already", f"{one.name} was merged with another card already.", "other")]
    overlapping = [_overlap(one) for one in looked_up.overlaps(kept.pk, gone.pk)]
    return overlapping or rules.choice_refusals(choices, values_of(kept), values_of(gone))


def _overlap(found: looked_up.Overlap) -> Reason:
    zone = studio_queries.house_zone()
    says = f"Both cards have a {found.what} at the same time: {_span(found.kept, zone)} and {_span(found.gone, zone)}."
    return Reason("overlap", says, "other", "Cancel one of the two first.")


def _span(during: Any, zone: ZoneInfo) -> str:
    start, end = during.lower.astimezone(zone), during.upper.astimezone(zone)
    return f"{start:%A} {start.day} {start:%B}, {start:%H:%M} to {end:%H:%M}"


def _may_be_undone(kept: models.Client) -> None:
    if kept.merged_into_id is not None:
        says = "This card was merged with a third one since. Undo that merge first."
        raise Refused(Reason("merged_on", says, "merge"))
    if kept.erased_at is not None:
        raise Refused(Reason("erased", "This card was erased; there is no way back.", "merge"))


def _is_as_left(merge: models.Merge, kept: models.Client, made: list[list[str]], now: datetime) -> bool:
    """Whether it is still the day of the merge and nothing but its own screening has spoken since."""
    own = [key for label, key in made if label == SCREENING]
    since = kept.screenings.filter(decided_at__gt=merge.merged_at).exclude(pk__in=own)
    return queries.day_of(merge.merged_at, kept) == queries.day_of(now, kept) and not since.exists()


def _part(merge: models.Merge, kept: models.Client, gone: models.Client, before: dict[str, Any]) -> None:
    changed: dict[str, dict[str, dict[str, list[Any]]]] = before["changed"]
    for label, key in before["made"]:
        trace.remove(label, key)
    _set_versions_aside(changed.get(FORM, {}))
    for pointer in looked_up.pointers():
        keys = pointer.model._default_manager.filter(pk__in=merge.moved.get(pointer.name, []))
        going = {(pointer.model._meta.label_lower, str(key)) for key in keys.values_list("pk", flat=True)}
        stays = {(label, str(key)) for label, key in _keys(pointer, kept.pk)} - going
        joining.moved(pointer, was=kept.pk, becomes=gone.pk, stays=stays)
    _uncount_visits(changed[CARD].get(str(kept.pk), {}), kept, before["visits"])
    joining.seal_anew(gone, was=kept)
    for label, rows in changed.items():
        for key, cells in rows.items():
            trace.put_back(label, key, cells)


def _keys(pointer: looked_up.Pointer, client_id: UUID) -> Iterable[tuple[str, object]]:
    label = pointer.model._meta.label_lower
    return ((label, key) for key in pointer.rows(client_id).values_list("pk", flat=True))


def _set_versions_aside(forms: dict[str, dict[str, list[Any]]]) -> None:
    """Numbers on the way back must not meet either; a form whose number was changed since keeps it."""
    for key, cells in forms.items():
        if "version" not in cells:
            continue
        aside = cells["version"][1] + joining.ASIDE
        rows = models.HealthForm.objects.filter(pk=key, version=cells["version"][1])
        if rows.update(version=aside):
            cells["version"][1] = aside


def _uncount_visits(cells: dict[str, list[Any]], kept: models.Client, theirs: int) -> None:
    """Visits counted since the merge are the kept card's."""
    cells.pop("visits", None)
    models.Client.objects.filter(pk=kept.pk).update(visits=max(0, kept.visits - theirs))


def _screen_both(*client_ids: UUID, by: studio_models.Person | None, now: datetime) -> None:
    for client_id in client_ids:
        client = models.Client.objects.select_related("home").get(pk=client_id)
        screening.screen_again(client, asked_for="merged", by=by, now=now)


@contextmanager
def _alone() -> Any:
    """One transaction; one that the database ended for a deadlock is refused in words."""
    try:
        with transaction.atomic():
            yield
    except OperationalError as error:
        if getattr(error.__cause__, "sqlstate", "") not in AGAIN:
            raise
        raise Refused(BUSY) from error
