"""The machine a program is fitted for."""

from dataclasses import dataclass

from programming.rules.springs import SpringSet
from scheduling import models as scheduling_models
from studio.rules import ApparatusKind

LETTERS = {"heavy": "H", "medium": "M", "light": "L"}


@dataclass(frozen=True)
class Machine:
    """`springs` is None where the kind has none of its own to choose from; empty on a reformer with none on it."""

    id: int
    label: str
    kind: ApparatusKind
    studio_id: int
    springs: SpringSet | None
    letters: str


def machine(apparatus_id: int) -> Machine:
    """One machine with the springs it carries now. Raises DoesNotExist."""
    row = scheduling_models.Apparatus.objects.prefetch_related("springs").get(pk=apparatus_id)
    found = (LETTERS[spring.stiffness_class] for spring in row.springs.all() if spring.removed_on is None)
    letters = SpringSet.of("".join(found)).letters
    kind = ApparatusKind(row.kind)
    springs = SpringSet.of(letters) if kind is ApparatusKind.REFORMER else None
    return Machine(row.pk, row.label, kind, row.studio_id, springs, letters)


def kinds_at_hand(studio_id: int) -> frozenset[ApparatusKind]:
    """Kinds of apparatus that stand at a studio: what a line may be swapped to."""
    kinds = scheduling_models.Apparatus.objects.filter(studio_id=studio_id, in_service_to=None)
    return frozenset(ApparatusKind(kind) for kind in kinds.values_list("kind", flat=True).distinct())
