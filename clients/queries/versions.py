"""The versions of the rule set: which there are, who proposed, read and put each in force, and what they differ in."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet

from clients import models
from clients.rules import versions as version_rules
from clients.rules.reference import Tables
from clients.rules.versions import RowChange

LOADED = "Loaded from the files"


@dataclass(frozen=True)
class VersionLine:
    """A version and what is known of it; `reviewed_on` None means that no licensed professional has read it yet."""

    id: int
    short: str
    note: str
    made_at: datetime
    made_by: str
    in_force: bool
    put_in_force_at: datetime | None
    put_in_force_by: str
    reviewed_by: str
    profession: str
    reviewed_on: date | None
    reviewed_what: str

    @property
    def name(self) -> str:
        return f"Version {self.id}"

    @property
    def is_reviewed(self) -> bool:
        return self.reviewed_on is not None


def versions() -> tuple[VersionLine, ...]:
    """Every version, the one in force first, then the newest. One query."""
    return tuple(_line(row) for row in _rows().order_by("-in_force", "-loaded_at", "-pk"))


def version(version_id: int) -> VersionLine:
    """Raises RuleSet.DoesNotExist."""
    return _line(_rows().get(pk=version_id))


def in_force_id() -> int | None:
    return models.RuleSet.objects.filter(in_force=True).values_list("pk", flat=True).first()


def tables_of(version_id: int) -> Tables:
    """The tables of a version as its files held them. Raises RuleSet.DoesNotExist."""
    tables: Tables = models.RuleSet.objects.values_list("tables", flat=True).get(pk=version_id)
    return tables


def differences(before_id: int, after_id: int) -> tuple[RowChange, ...]:
    """What the second version says otherwise than the first. Raises RuleSet.DoesNotExist."""
    return version_rules.differences(tables_of(before_id), tables_of(after_id))


def _rows() -> QuerySet[models.RuleSet]:
    return models.RuleSet.objects.defer("tables").select_related("proposed_by", "put_in_force_by")


def _line(row: models.RuleSet) -> VersionLine:
    return VersionLine(
        id=row.pk,
        short=row.digest[:8],
        note=row.note or LOADED,
        made_at=row.loaded_at,
        made_by=row.proposed_by.name if row.proposed_by else "",
        in_force=row.in_force,
        put_in_force_at=row.put_in_force_at,
        put_in_force_by=row.put_in_force_by.name if row.put_in_force_by else "",
        reviewed_by=row.reviewed_by,
        profession=row.profession,
        reviewed_on=row.reviewed_on,
        reviewed_what=row.reviewed_what,
    )
