"""Springs as they are written: "HMML" for drawing, "1L 2M 1H" for a label, facts for the rules."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import OuterRef
from django.db.models.functions import JSONObject

from scheduling.models import Spring
from scheduling.rules.springs import SpringFact, inventory_label

LETTERS = {"heavy": "H", "medium": "M", "light": "L"}
CLASS_OF = {letter: name for name, letter in LETTERS.items()}


def springs_of(apparatus: str) -> ArraySubquery:
    """Annotation: the springs now on the machine whose key is in column `apparatus`, from the foot end."""
    rows = Spring.objects.filter(apparatus=OuterRef(apparatus), removed_on=None).order_by("position")
    return ArraySubquery(
        rows.values(j=JSONObject(k="k_n_per_m", x0="x0_m", stiffness="stiffness_class", calibrated="calibrated_on"))
    )


def facts_of(rows: Iterable[Mapping[str, Any]]) -> tuple[SpringFact, ...]:
    return tuple(SpringFact(row["k"], row["x0"], row["stiffness"], row["calibrated"] is not None) for row in rows)


def letters(springs: Iterable[SpringFact]) -> str:
    """Heaviest first: "HHML"."""
    found = [LETTERS[spring.stiffness] for spring in springs]
    return "".join(sorted(found, key="HML".index))


def label(springs: Iterable[SpringFact]) -> str:
    """ "1L 2M 1H"; empty for a machine without springs."""
    return inventory_label(tuple(springs))
