"""Where a client stands with an exercise, and what the log proposes next: advance, repeat or step back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from programming.rules.marks import Mark, Standing

CLEAN_SCORE = 4
CLEAN_RUN = 2
CLEAN_RUN_HIGH = 3
HIGH_LEVEL = 4
HANDS_SCORE = 1
STEP_BACK_PAIN = 3
# An exercise unseen for as long as a program takes to go stale (84 days, review intervals; studio_default).
PAUSED_AFTER_DAYS = 84


@dataclass(frozen=True)
class Entry:
    """One lesson's log of one exercise.

    `score` 0-5 and `pain` 0-10 are None when not noted; `symptom` means anything felt that day or the next,
    `lasting` that it went on past the next day.
    """

    on: date
    mark: Mark
    score: int | None = None
    pain: int | None = None
    symptom: bool = False
    lasting: bool = False

    @property
    def is_practised(self) -> bool:
        return self.mark is not Mark.SKIPPED

    @property
    def shows_the_exercise(self) -> bool:
        """A scored one in its own form; fewer than planned is valid, a changed form says nothing of the exercise."""
        return self.score is not None and self.mark in (Mark.DONE, Mark.FEWER)

    @property
    def is_clean(self) -> bool:
        return self.shows_the_exercise and (self.score or 0) >= CLEAN_SCORE

    @property
    def words(self) -> str:
        """What the log says, in words: `done, 4 of 5, pain 2 of 10`."""
        found = [self.mark.words]
        found += [] if self.score is None else [f"{self.score} of 5"]
        found += [f"pain {self.pain} of 10"] if self.pain else []
        found += ["something felt"] if self.symptom and not self.pain else []
        return ", ".join([*found, *(["still there the day after"] if self.lasting else [])])


def together(entries: Sequence[Entry]) -> Entry:
    """What one lesson says of an exercise that it practised more than once: the lowest score, the most pain.

    Two lines of one lesson are one lesson. Raises ValueError without an entry.
    """
    practised = [entry for entry in entries if entry.is_practised] or list(entries)
    if not practised:
        raise ValueError("a lesson has at least one entry")
    scores = [entry.score for entry in practised if entry.score is not None]
    pains = [entry.pain for entry in practised if entry.pain is not None]
    own_form = [entry for entry in practised if entry.mark is not Mark.CHANGED]
    return Entry(
        on=practised[0].on,
        mark=(own_form or practised)[0].mark,
        score=min([entry.score for entry in own_form if entry.score is not None] or scores, default=None),
        pain=max(pains, default=None),
        symptom=any(entry.symptom for entry in practised),
        lasting=any(entry.lasting for entry in practised),
    )


@dataclass(frozen=True)
class Granted:
    """A senior teacher's word: ownership granted, or withdrawn, from a day on."""

    on: date
    owned: bool


class Step(StrEnum):
    ADVANCE = "advance"
    REPEAT = "repeat"
    STEP_BACK = "step_back"

    @property
    def words(self) -> str:
        return self.value.replace("_", " ")

    @property
    def changes_the_form(self) -> bool:
        """Whether the runs of lessons begin anew with it: another form is practised from then on."""
        return self is not Step.REPEAT


@dataclass(frozen=True)
class Proposal:
    """What is proposed, why in words, and the entries it rests on; the teacher decides."""

    step: Step
    because: str
    evidence: tuple[Entry, ...]


def standing(history: Sequence[Entry], *, on: date, granted: Sequence[Granted] = ()) -> Standing | None:
    """Where the client stands on a day; None when the exercise was never practised nor granted.

    Owned from the second clean lesson running (a score of 4 or more), whatever the level, until two scores of 1
    running or a withdrawal. Lessons without a score, skipped ones and changed forms neither extend nor break a run.
    Introduced until practised twice. Paused when not practised for 84 days.
    """
    past = sorted((entry for entry in history if entry.on <= on and entry.is_practised), key=lambda entry: entry.on)
    words = sorted((word for word in granted if word.on <= on), key=lambda word: word.on)
    if not past and not words:
        return None
    last_seen = max([entry.on for entry in past] + [word.on for word in words])
    if (on - last_seen).days >= PAUSED_AFTER_DAYS:
        return Standing.PAUSED
    if _is_owned(past, words):
        return Standing.OWNED
    return Standing.WORKING if len(past) > 1 else Standing.INTRODUCED


def _is_owned(past: Sequence[Entry], words: Sequence[Granted]) -> bool:
    """The log first, then the last word of a senior teacher, unless the log has spoken since."""
    owned = words[-1].owned if words else False
    counted = [entry for entry in past if entry.shows_the_exercise and (not words or entry.on > words[-1].on)]
    clean = hands = 0
    for entry in counted:
        clean = clean + 1 if entry.is_clean else 0
        hands = hands + 1 if entry.score == HANDS_SCORE else 0
        if clean >= CLEAN_RUN:
            owned = True
        elif hands >= 2:
            owned = False
    return owned


def proposal(history: Sequence[Entry], *, level: int) -> Proposal | None:
    """What the log proposes for an exercise of a level; None when it was never practised.

    Step back at pain of 3 or more, symptoms past the next day, or a score of 1 twice. Advance at 4 or better in two
    lessons running (three for levels 4 and 5) without a symptom. Otherwise repeat.
    """
    past = sorted((entry for entry in history if entry.is_practised), key=lambda entry: entry.on)
    if not past:
        return None
    last = past[-1]
    if (last.pain or 0) >= STEP_BACK_PAIN:
        return Proposal(Step.STEP_BACK, f"pain of {last.pain} out of 10", (last,))
    if last.lasting:
        return Proposal(Step.STEP_BACK, "symptoms past the next day", (last,))
    scored = [entry for entry in past if entry.shows_the_exercise]
    if len(scored) >= 2 and all(entry.score == HANDS_SCORE for entry in scored[-2:]):
        return Proposal(Step.STEP_BACK, "needed hands twice running", tuple(scored[-2:]))
    return _onward(scored, past, level=level)


def _onward(scored: Sequence[Entry], past: Sequence[Entry], *, level: int) -> Proposal:
    needed = CLEAN_RUN_HIGH if level >= HIGH_LEVEL else CLEAN_RUN
    run = tuple(scored[-needed:])
    if len(run) < needed or not all(entry.is_clean for entry in run):
        return Proposal(Step.REPEAT, f"{needed} clean lessons running are asked for", run or (past[-1],))
    # Unscored and changed lessons since the run began may tell of symptoms too.
    felt = tuple(entry for entry in past if entry.on >= run[0].on and (entry.symptom or (entry.pain or 0) > 0))
    if felt:
        return Proposal(Step.REPEAT, "clean, but something was felt", felt)
    return Proposal(Step.ADVANCE, f"alone and clean in {needed} lessons running", run)
