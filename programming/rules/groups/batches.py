"""Batches of one shared line: who begins it in the same round, at the least cost, and the cheapest partings."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from programming.rules.groups.parts import SPARE_EYES, Option

Lead = tuple[int, int, int, int]
NOTHING: Lead = (0, 0, 0, 0)


class Batch(NamedTuple):
    """A batch of people (a bit each) at a line: `eyes` are figures above one a person, `items` counts by kind.

    `picks` are the options in the order of the people, by place; the place after the last one leaves the line out.
    """

    people: int
    eyes: int
    items: tuple[int, ...]
    deciseconds: int
    picks: tuple[int, ...]


class _Part(NamedTuple):
    """The best way so far to one choice of forms, eyes and items; compared from the left."""

    left_out: int
    changed: int
    nearness: int
    deciseconds: int
    picks: tuple[int, ...]


_Key = tuple[int, int, tuple[int, ...]]


@dataclass(frozen=True)
class _Choice:
    """An option as numbers: the bit of its form, and what it adds."""

    form: int
    eyes: int
    items: tuple[int, ...]
    left_out: int
    changed: int
    nearness: int
    deciseconds: int


class LineBatches:
    """All that phase one knows of one line: the least lead of each set of people, and the batches that reach it.

    A lead is (lines left out, instructions, lines changed, nearness). `most` is the stock by kind, in order.
    """

    def __init__(self, options: Sequence[Sequence[Option]], kinds: Sequence[str], most: tuple[int, ...]) -> None:
        forms: dict[str, int] = {"": 1}
        for person in options:
            for option in person:
                forms.setdefault(option.form, 1 << len(forms))
        self._choices = [_choices(person, forms, kinds) for person in options]
        self._most = most
        none = (0,) * len(kinds)
        self._parts: dict[int, dict[_Key, _Part]] = {0: {(0, 0, none): _Part(0, 0, 0, 0, ())}}
        self._cheapest: dict[int, tuple[Lead, tuple[Batch, ...]]] = {}
        self._least: dict[int, Lead] = {0: NOTHING}
        self._tight: dict[tuple[int, int], tuple[Batch, ...]] = {}
        self._eyes: dict[int, int] = {0: 0}

    def least(self, people: int) -> Lead:
        """The least that the line can cost for these people, over all ways to part them into batches."""
        if people not in self._least:
            first = people & -people
            self._least[people] = min(
                _added(self._lead(batch), self.least(people ^ batch)) for batch in _subsets(people) if batch & first
            )
        return self._least[people]

    def tight(self, here: int, to_come: int) -> tuple[Batch, ...]:
        """Every batch of the people who are here that belongs to a cheapest parting of them and of those to come."""
        if (here, to_come) not in self._tight:
            aim = self.least(here | to_come)
            self._tight[here, to_come] = tuple(
                batch
                for chosen in _subsets(here)
                if _added(self._lead(chosen), self.least((here | to_come) ^ chosen)) == aim
                for batch in self._cheapest[chosen][1]
            )
        return self._tight[here, to_come]

    def eyes(self, people: int) -> int:
        """The fewest figures above one, added up, with which a cheapest parting of these people can be taught."""
        if people not in self._eyes:
            first = people & -people
            self._eyes[people] = min(
                batch.eyes + self.eyes(people ^ batch.people) for batch in self.tight(people, 0) if batch.people & first
            )
        return self._eyes[people]

    def shortest(self, people: int, person: int) -> int:
        """The deciseconds of the shortest batch with this person that belongs to a cheapest parting of them."""
        return min(batch.deciseconds for batch in self.tight(people, 0) if batch.people >> person & 1)

    def _lead(self, people: int) -> Lead:
        if people not in self._cheapest:
            self._cheapest[people] = _cheapest(people, self._ways(people))
        return self._cheapest[people][0]

    def _ways(self, people: int) -> Mapping[_Key, _Part]:
        """The best way to every choice of forms, eyes and items, one person after the other."""
        if people not in self._parts:
            last = people.bit_length() - 1
            before = self._ways(people ^ (1 << last))
            found: dict[_Key, _Part] = {}
            for place, choice in enumerate(self._choices[last]):
                for key, part in before.items():
                    self._add(found, key, part, choice, place)
            self._parts[people] = found
        return self._parts[people]

    def _add(self, found: dict[_Key, _Part], key: _Key, part: _Part, choice: _Choice, place: int) -> None:
        forms, eyes, items = key
        eyes += choice.eyes
        if eyes > SPARE_EYES:
            return
        if choice.items:
            items = tuple(map(int.__add__, items, choice.items))
            if any(used > most for used, most in zip(items, self._most, strict=True)):
                return
        reached = (forms | choice.form, eyes, items)
        way = _Part(
            part.left_out + choice.left_out,
            part.changed + choice.changed,
            part.nearness + choice.nearness,
            max(part.deciseconds, choice.deciseconds),
            (*part.picks, place),
        )
        if reached not in found or way < found[reached]:
            found[reached] = way


def _choices(person: Sequence[Option], forms: Mapping[str, int], kinds: Sequence[str]) -> list[_Choice]:
    found = [
        _Choice(
            form=forms[option.form],
            eyes=option.supervision - 1,
            items=tuple(int(kind in option.items) for kind in kinds) if option.items else (),
            left_out=0,
            changed=option.changed,
            nearness=option.nearness,
            deciseconds=option.deciseconds,
        )
        for option in person
    ]
    return [*found, _Choice(forms[""], 0, (), 1, 1, 0, 0)]


def _cheapest(people: int, ways: Mapping[_Key, _Part]) -> tuple[Lead, tuple[Batch, ...]]:
    """The least lead of one batch, and the batches that reach it; of those with equal eyes and items the shortest."""
    leads = {
        key: (part.left_out, key[0].bit_count(), part.changed, part.nearness) for key, part in ways.items()
    }  # fmt: skip
    least = min(leads.values())
    best: dict[tuple[int, tuple[int, ...]], Batch] = {}
    for key, lead in leads.items():
        if lead != least:
            continue
        part, needs = ways[key], key[1:]
        batch = Batch(people, *needs, part.deciseconds, part.picks)
        if needs not in best or batch < best[needs]:
            best[needs] = batch
    return least, tuple(batch for batch in best.values() if not any(_beaten(batch, other) for other in best.values()))


def _beaten(batch: Batch, other: Batch) -> bool:
    """Whether the other asks for no more in anything, and for less in something."""
    no_more = other.eyes <= batch.eyes and other.deciseconds <= batch.deciseconds
    if not no_more or any(mine < theirs for mine, theirs in zip(batch.items, other.items, strict=True)):
        return False
    return other[1:4] != batch[1:4]


def _added(one: Lead, other: Lead) -> Lead:
    return (one[0] + other[0], one[1] + other[1], one[2] + other[2], one[3] + other[3])


def _subsets(people: int) -> Iterator[int]:
    """Every set of at least one of these people, the whole first."""
    chosen = people
    while chosen:
        yield chosen
        chosen = (chosen - 1) & people
