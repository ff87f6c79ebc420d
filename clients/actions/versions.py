"""The versions of a client's form: the list, one version read back, two beside each other. Each opening is kept."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from clients import models, queries
from clients.actions import drafts, reading
from clients.rules import form as rules
from studio import models as studio_models
from studio.actions import audit

DRAFT = models.HealthForm.State.DRAFT


@dataclass(frozen=True)
class VersionLine:
    """One signed version without its answers. `state` is signed while it stands, else replaced."""

    version: int
    kind: str
    state: str
    signed_on: date
    signed_name: str
    signed_as: str
    told_to: str
    on_paper_of: date | None
    whole_on: date


@dataclass(frozen=True)
class Versions:
    """All signed versions of a client's form, the newest first."""

    client_id: UUID
    name: str
    lines: tuple[VersionLine, ...]


@dataclass(frozen=True)
class VersionRead:
    """One version with its answers in words, and what the rules of its day were worth."""

    client_id: UUID
    name: str
    born_on: date | None
    line: VersionLine
    told: tuple[rules.Told, ...]
    is_reviewed: bool


@dataclass(frozen=True)
class Compared:
    """Two versions: what differs, in the words of each."""

    older: VersionLine
    newer: VersionLine
    differences: tuple[rules.Difference, ...]


def form_versions(client_id: UUID, *, by: studio_models.Person, now: datetime, why: str = "") -> Versions:
    """The list; no answer is opened for it. Raises Refused as `read_limits` does."""
    with transaction.atomic():
        client = _client(client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        audit.read("list_versions", client, by=by, now=now, client_key=client.pk, why=why)
        rows = client.health_forms.exclude(state=DRAFT).select_related("told_to").order_by("-version")
        return Versions(client.pk, client.name, tuple(_line(client, row) for row in rows))


def read_version(
    client_id: UUID, version: int, *, by: studio_models.Person, now: datetime, why: str = ""
) -> VersionRead:
    """One signed version read back. Raises HealthForm.DoesNotExist; Refused as `read_limits` does."""
    with transaction.atomic():
        client = _client(client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        row = _row(client, version)
        return VersionRead(
            client_id=client.pk,
            name=client.name,
            born_on=client.born_on,
            line=_line(client, row),
            told=_read_back(client, row, by=by, now=now, why=why),
            is_reviewed=_rules_of(row).reviewed_on is not None,
        )


def compare_versions(
    client_id: UUID, *, older: int, newer: int, by: studio_models.Person, now: datetime, why: str = ""
) -> Compared:
    """What differs between two signed versions; the lower number is taken for the older. Raises as `read_version`."""
    with transaction.atomic():
        client = _client(client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        first, second = (_row(client, version) for version in sorted((older, newer)))
        before = _read_back(client, first, by=by, now=now, why=why)
        after = _read_back(client, second, by=by, now=now, why=why)
        return Compared(_line(client, first), _line(client, second), rules.differences(before, after))


def _client(client_id: UUID) -> models.Client:
    return models.Client.objects.select_related("home").get(pk=client_id)


def _row(client: models.Client, version: int) -> models.HealthForm:
    return client.health_forms.exclude(state=DRAFT).select_related("told_to").get(version=version)


def _line(client: models.Client, row: models.HealthForm) -> VersionLine:
    return VersionLine(
        version=row.version,
        kind=row.get_kind_display(),
        state=row.state,
        signed_on=queries.day_of(row.signed_at or row.saved_at, client),
        signed_name=row.signed_name,
        signed_as=row.get_signed_as_display(),
        told_to=row.told_to.name if row.told_to else "",
        on_paper_of=row.on_paper_of,
        whole_on=queries.whole_day(client, row),
    )


def _read_back(
    client: models.Client, row: models.HealthForm, *, by: studio_models.Person, now: datetime, why: str
) -> tuple[rules.Told, ...]:
    audit.read("read_version", row, by=by, now=now, client_key=client.pk, why=why)
    on = row.on_paper_of or queries.day_of(row.signed_at or row.saved_at, client)
    answers = drafts.answers_of(client, row)
    told = rules.read_back(_rules_of(row).rulebook, answers, on=on, born_on=client.born_on)
    return (*rules.read_recheck(answers), *told)


def _rules_of(row: models.HealthForm) -> queries.RulesInForce:
    """The rules that a version was screened by first, with the questions of its day; else those in force."""
    rule_set = row.screenings.order_by("decided_at").values_list("rule_set_id", flat=True).first()
    return queries.rules_of(rule_set) if rule_set else queries.rules_in_force()
