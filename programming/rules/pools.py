"""Repetition pools: parts of an exercise that share one total (donor = total - side factor x recipient)."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from programming.rules.repertoire import ExerciseRow


@dataclass(frozen=True)
class Pool:
    """One pool. Counts are as each row counts them: per side where the row is per side."""

    name: str
    total: int
    donors: tuple[ExerciseRow, ...]
    recipient: ExerciseRow

    @property
    def usual_recipient(self) -> int:
        """The recipient's count when the plan names none: the middle of its range, lowered until the pool holds."""
        count = int(self.recipient.mid_reps)
        least = self.recipient.rep_pool_min or 1
        while count > least and not self.holds(self.shares(count), count):
            count -= 1
        return count

    def shares(self, recipient: int) -> dict[str, int]:
        """What each donor keeps by id; an odd one goes to the earlier part, a count never falls under zero."""
        left = max(0, self.total - recipient * self.recipient.side_factor)
        factor = self.donors[0].side_factor
        each, odd = divmod(left // factor, len(self.donors))
        return {donor.id: each + (1 if place < odd else 0) for place, donor in enumerate(self.donors)}

    def holds(self, donors: Mapping[str, float], recipient: float) -> bool:
        """Whether the parts add up to the total and each keeps its minimum; `recipient` 0 means left out."""
        given = sum(donors[row.id] * row.side_factor for row in self.donors)
        if given + recipient * self.recipient.side_factor != self.total:
            return False
        enough = all(donors[row.id] >= (row.rep_pool_min or 0) for row in self.donors)
        return enough and (recipient == 0 or recipient >= (self.recipient.rep_pool_min or 0))


def pools(repertoire: Mapping[str, ExerciseRow]) -> dict[str, Pool]:
    """Pools by name, donors in the order of the apparatus; a pool without a recipient or a donor is none."""
    members: dict[str, list[ExerciseRow]] = {}
    for row in repertoire.values():
        if row.rep_pool:
            members.setdefault(row.rep_pool, []).append(row)
    found: dict[str, Pool] = {}
    for name, rows in members.items():
        rows.sort(key=lambda row: row.order_in_apparatus)
        donors = tuple(row for row in rows if row.rep_pool_role == "donor")
        recipient = next((row for row in rows if row.rep_pool_role == "recipient"), None)
        if donors and recipient:
            found[name] = Pool(name, recipient.rep_pool_total or 0, donors, recipient)
    return found


def whole_pools(repertoire: Mapping[str, ExerciseRow], ids: Collection[str]) -> list[Pool]:
    """Pools whose donors and recipient are all among `ids`."""
    return [
        pool
        for pool in pools(repertoire).values()
        if pool.recipient.id in ids and all(donor.id in ids for donor in pool.donors)
    ]
