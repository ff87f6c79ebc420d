"""What an exercise asks for first, what may have been seen in its place, and whose a waiver is."""

from uuid import UUID

from programming import models
from programming.queries import repertoire

SHOWN = 12


def client_of(waiver_id: UUID) -> UUID:
    """Whose waiver it is. Raises Waiver.DoesNotExist."""
    return models.Waiver.objects.values_list("client_id", flat=True).get(pk=waiver_id)


def program_of(key: str, client_id: UUID) -> UUID | None:
    """The program of this client with that key; None for anything else."""
    try:
        program_id = UUID(key)
    except ValueError:
        return None
    found = models.Program.objects.filter(pk=program_id, client_id=client_id)
    return found.values_list("pk", flat=True).first()


def asked_first(exercise_id: str) -> tuple[tuple[str, ...], ...]:
    """The groups of exercises of which one each is asked for first, by name."""
    rows = repertoire.exercises()
    row = rows.get(exercise_id)
    if row is None:
        return ()
    return tuple(tuple(rows[key].name if key in rows else key for key in group) for group in row.prerequisites)


def equivalents(exercise_id: str) -> list[tuple[str, str]]:
    """(id, name) of what may have been seen in its place: of its family first, then with a shared aim, level alike."""
    rows = repertoire.exercises()
    row = rows.get(exercise_id)
    if row is None:
        return []
    near = [
        (other.family != row.family, abs(other.level - row.level), other.id, other.name)
        for other in rows.values()
        if other.id != row.id and (other.family == row.family or set(other.purpose) & set(row.purpose))
    ]
    return [(key, name) for _, _, key, name in sorted(near)[:SHOWN]]
