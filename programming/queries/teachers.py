"""How far a teacher is cleared."""

from scheduling.models import MayTeach
from studio.rules import ApparatusKind


def levels_of(person_id: int) -> dict[ApparatusKind, int]:
    """The highest level a person teaches on each kind of apparatus; empty for somebody who does not teach."""
    rows = MayTeach.objects.filter(instructor__person_id=person_id).values_list("apparatus_kind", "level")
    return {ApparatusKind(kind): level for kind, level in rows}
