"""The why line: condition, demand, rule and source of each limit, in words."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from clients.rules.limits import LETTER, TEACHER, LimitFound
from clients.rules.reference import Rulebook, Source

# Where a citation would stand for what has none.
NO_PUBLISHED_SOURCE = frozenset({"studio_practice", "studio_default"})
HOW_CHECKED = {"memory": "from memory", "secondary": "seen at second hand", "read": "read in the source"}


@dataclass(frozen=True)
class SourceLine:
    """A source as it is shown: its citation, and how it was checked or that nothing is published."""

    citation: str
    year: str
    note: str
    url_or_doi: str


@dataclass(frozen=True)
class Chain:
    """One condition's path to a limit; `rests_on` says whose word the condition is."""

    condition: str
    phase: str
    rests_on: str
    demand: str
    rule: str
    strength: str
    sources: tuple[SourceLine, ...]


@dataclass(frozen=True)
class LimitLine:
    """A limit with its why. `level` is avoid, adapt or watch; `side` is empty when it is on both."""

    demand: str
    name: str
    definition: str
    level: str
    side: str
    how: str
    until: date | None
    chains: tuple[Chain, ...]


def limit_lines(limits: Iterable[LimitFound], rulebook: Rulebook, *, rests_on: dict[str, str]) -> tuple[LimitLine, ...]:
    """Each limit with its chains; `rests_on` holds the words for each condition, those not in it are the form's."""
    return tuple(
        LimitLine(
            demand=limit.demand,
            name=rulebook.demands[limit.demand].name,
            definition=rulebook.demands[limit.demand].definition,
            level=limit.level.value,
            side="" if limit.side == "both" else limit.side.value,
            how=limit.how,
            until=limit.until,
            chains=tuple(_chain(because, limit, rulebook, rests_on) for because in limit.because),
        )
        for limit in limits
    )


def grouped(chains: Iterable[Chain]) -> tuple[Chain, ...]:
    """The chains, those that differ in nothing but the demand made one that names all their demands."""
    demands: dict[Chain, list[str]] = {}
    for chain in chains:
        names = demands.setdefault(replace(chain, demand=""), [])
        if chain.demand not in names:
            names.append(chain.demand)
    return tuple(replace(chain, demand="; ".join(names)) for chain, names in demands.items())


def source_lines(source_ids: Iterable[str], rulebook: Rulebook) -> tuple[SourceLine, ...]:
    """Sources in words; a practice without a publication says so."""
    return tuple(_source(rulebook.sources[one]) for one in source_ids if one in rulebook.sources)


def _chain(because: str, limit: LimitFound, rulebook: Rulebook, rests_on: dict[str, str]) -> Chain:
    condition = rulebook.conditions.get(because)
    demand = rulebook.demands[limit.demand]
    if condition is None:
        told, word = _told(because, rulebook)
        return Chain(told, "", word, demand.name, limit.how, strength_words(limit.strength), _sources(limit, rulebook))
    rule = next((one for one in rulebook.limits_by_condition.get(because, ()) if one.demand == limit.demand), None)
    how, strength = (rule.how, rule.strength) if rule else (limit.how, limit.strength)
    sources = source_lines(rule.source_ids, rulebook) if rule else _sources(limit, rulebook)
    return Chain(
        condition=condition.name,
        phase=condition.phase_or_window,
        rests_on=rests_on.get(because, "the client's own word"),
        demand=demand.name,
        rule=f"{limit.level}: {how}" if how else limit.level.value,
        strength=strength_words(strength),
        sources=sources,
    )


def _told(because: str, rulebook: Rulebook) -> tuple[str, str]:
    """What asked for a limit that no condition asks for, and whose word it is."""
    if because.startswith(LETTER):
        return "Asked for in a letter", "a clinician's letter"
    if because.startswith(TEACHER):
        return "Put down for this client", "the teacher who put it down"
    told = rulebook.questions[because].question if because in rulebook.questions else because
    return told, "the client's own word"


def _sources(limit: LimitFound, rulebook: Rulebook) -> tuple[SourceLine, ...]:
    return source_lines(limit.source_ids, rulebook)


def _source(source: Source) -> SourceLine:
    if source.id in NO_PUBLISHED_SOURCE:
        note = "common practice, no published source" if source.id == "studio_practice" else "a choice of this studio"
        return SourceLine(note, "", "no published source", "")
    return SourceLine(
        source.citation, source.year, HOW_CHECKED.get(source.how_checked, source.how_checked), source.url_or_doi
    )


def strength_words(strength: str) -> str:
    return strength.replace("_", " ")
