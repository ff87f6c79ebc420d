"""Repetitions that parts of an exercise share: whole, given back to the donors, or not reached with a donor out."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from programming.rules.fitting.candidates import Candidate, SharedReps
from programming.rules.lines import Line


class Way(StrEnum):
    """How a pool goes: all parts done, recipient out and donors with its share, or a donor out and nothing shared."""

    WHOLE = "whole"
    GIVEN_BACK = "given back"
    NOT_REACHED = "not reached"


@dataclass(frozen=True, slots=True)
class Variant:
    """A candidate with the repetitions it has in one way of its pool, and the bits that keep the ways apart."""

    candidate: Candidate
    line: Line | None
    forbids: int = 0
    clears: int = 0
    puts: int = 0
    lacks: tuple[int, ...] = ()

    @property
    def is_own(self) -> bool:
        return self.line is not None and not self.candidate.nearness


@dataclass(slots=True)
class Pooled:
    """The variants of each line, and the bits set before the first."""

    lines: list[list[Variant]]
    start: int = 0


def variants(
    planned: Sequence[Line],
    listed: Sequence[Sequence[Candidate]],
    shared: Sequence[SharedReps],
    bit: Callable[[object], int],
) -> Pooled:
    """Every candidate of every line in each way of its pool; `bit` names a bit."""
    pooled = Pooled([[Variant(one, one.line) for one in candidates] for candidates in listed])
    places = {line.row.id: place for place, line in enumerate(planned)} if shared else {}
    for one in shared:
        _share(pooled, one, places, bit)
    return pooled


def _share(pooled: Pooled, shared: SharedReps, places: Mapping[str, int], bit: Callable[[object], int]) -> None:
    donors = [places[row.id] for row in shared.pool.donors]
    recipient = places[shared.pool.recipient.id]
    ways = _ways(pooled, shared, donors, recipient)
    if len(ways) == 1:
        for place in (*donors, recipient):
            pooled.lines[place] = [_counted(one, shared, ways[0]) for one in pooled.lines[place]]
        return
    name = shared.pool.name
    ways_bits = {way: bit((name, way)) for way in ways}
    lacking = bit((name, "no donor is out"))
    pooled.start |= lacking
    last = max(*donors, recipient)
    for place in (*donors, recipient):
        pooled.lines[place] = [
            _in_way(one, shared, way, ways_bits, lacking, is_last=place == last, is_donor=place != recipient)
            for one in pooled.lines[place]
            for way in ways
            if _may(one, way, is_donor=place != recipient)
        ]


def _ways(pooled: Pooled, shared: SharedReps, donors: Sequence[int], recipient: int) -> list[Way]:
    """The ways that can come about at all."""
    can = {place: any(one.is_own for one in pooled.lines[place]) for place in (*donors, recipient)}
    must = {place: all(one.is_own for one in pooled.lines[place]) for place in (*donors, recipient)}
    all_can = all(can[place] for place in donors)
    ways = []
    if all_can and can[recipient]:
        ways.append(Way.WHOLE)
    if all_can and not must[recipient]:
        ways.append(Way.GIVEN_BACK)
    if not all(must[place] for place in donors):
        ways.append(Way.NOT_REACHED)
    return ways


def _may(one: Variant, way: Way, *, is_donor: bool) -> bool:
    if is_donor:
        return one.is_own or way is Way.NOT_REACHED
    return way is not (Way.GIVEN_BACK if one.is_own else Way.WHOLE)


def _in_way(
    one: Variant,
    shared: SharedReps,
    way: Way,
    bits: Mapping[Way, int],
    lacking: int,
    *,
    is_last: bool,
    is_donor: bool,
) -> Variant:
    donor_out = is_donor and not one.is_own
    asks = way is Way.NOT_REACHED and is_last and not donor_out
    return replace(
        _counted(one, shared, way),
        forbids=sum(bit for other, bit in bits.items() if other is not way),
        puts=bits[way],
        clears=lacking if donor_out else 0,
        lacks=(lacking,) if asks else (),
    )


def _counted(one: Variant, shared: SharedReps, way: Way) -> Variant:
    """With the repetitions of this way; a part that the pool does not name keeps its own."""
    if one.line is None or not one.is_own or way is Way.NOT_REACHED:
        return one
    counts = (shared.whole if way is Way.WHOLE else shared.given_back) or {}
    reps = counts.get(one.line.row.id)
    if reps is None:
        return one
    return replace(one, line=replace(one.line, plan=replace(one.line.plan, reps=reps)))
