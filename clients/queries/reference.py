"""The rule set in force, parsed once a process."""

from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

from django.db.models import QuerySet

from clients import models
from clients.rules.reference import Rulebook
from studio.rules import Reason, Refused


@dataclass(frozen=True)
class RulesInForce:
    """A version of the clinical reference, and who read it over; `reviewed_on` None means nobody has yet."""

    id: int
    digest: str
    rulebook: Rulebook
    loaded_at: datetime
    reviewed_by: str
    profession: str
    reviewed_on: date | None
    reviewed_what: str = ""


def rules_in_force() -> RulesInForce:
    """The rule set that decides now. Raises Refused `no_rules` when none was ever loaded."""
    row = _versions().filter(in_force=True).first()
    if row is None:
        raise Refused(Reason("no_rules", "The clinical reference is not loaded yet, so nothing can be screened."))
    return _with_rulebook(row)


def has_rules() -> bool:
    return models.RuleSet.objects.filter(in_force=True).exists()


def rules_of(rule_set_id: int) -> RulesInForce:
    """The rule set a past screening was decided by."""
    return _with_rulebook(_versions().get(pk=rule_set_id))


def _versions() -> QuerySet[models.RuleSet]:
    return models.RuleSet.objects.defer("tables")


def _with_rulebook(row: models.RuleSet) -> RulesInForce:
    return RulesInForce(
        id=row.pk,
        digest=row.digest,
        rulebook=_rulebook(row.digest),
        loaded_at=row.loaded_at,
        reviewed_by=row.reviewed_by,
        profession=row.profession,
        reviewed_on=row.reviewed_on,
        reviewed_what=row.reviewed_what,
    )


@lru_cache(maxsize=4)
def _rulebook(digest: str) -> Rulebook:
    return Rulebook.from_tables(models.RuleSet.objects.values_list("tables", flat=True).get(digest=digest))
