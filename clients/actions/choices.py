"""The owner's choices at the points that the rules leave open; each with her name, the day and her reason."""

from datetime import datetime

from django.db import transaction

from clients import models, queries
from clients.actions import locks, runs
from clients.rules import adjusting
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused


def choose(point_id: str, *, value: str, why: str, by: studio_models.Person, now: datetime) -> models.RuleChoice:
    """Set a point of the rules; every active client is screened anew after it. The choice before stays in the history.

    `value` is a position, or a line as a whole number. Raises Refused `say_why`, `unknown_point`, `as_it_is`, and what
    `adjusting.refusal` says, among it `too_loose` with the stated bound and its sources.
    """
    why, value = runs.said(why), value.strip()
    with transaction.atomic():
        locks.alone("choose")
        rulebook = queries.rules_in_force().rulebook
        point = next((one for one in adjusting.points(rulebook) if one.id == point_id), None)
        if point is None:
            raise Refused(Reason("unknown_point", "The rules in force leave nothing open there.", "value"))
        if reason := adjusting.refusal(point, value):
            raise Refused(_with_sources(reason, point, rulebook))
        before = models.RuleChoice.objects.filter(point=point.id, ended_at=None).first()
        value = str(int(value)) if point.bound is not None else value
        if value == (before.value if before else point.default):
            raise Refused(Reason("as_it_is", "That is what holds already.", "value", point.allowed))
        return _write(point, value, before, why=why, by=by, now=now)


def _write(
    point: adjusting.Point,
    value: str,
    before: models.RuleChoice | None,
    *,
    why: str,
    by: studio_models.Person,
    now: datetime,
) -> models.RuleChoice:
    if before is not None:
        before.ended_at = now
        before.save(update_fields=["ended_at"])
    row = models.RuleChoice.objects.create(point=point.id, value=value, why=why, chosen_by=by, chosen_at=now)
    detail = {"point": point.id, "value": value, "before": before.value if before else point.default}
    audit.wrote("choose_rule", row, by=by, now=now, why=why, detail=detail)
    runs.screen_everybody(why=f"{point.label}: {value}", by=by, now=now)
    return row


def _with_sources(reason: Reason, point: adjusting.Point, rulebook: adjusting.Rulebook) -> Reason:
    """A refusal that names what the bound rests on."""
    if reason.code != "too_loose":
        return reason
    cited = "; ".join(rulebook.sources[one].citation for one in point.source_ids if one in rulebook.sources)
    return Reason(reason.code, f"{reason.says} It rests on: {cited}", reason.field, reason.allowed)
