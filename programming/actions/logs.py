"""The log of a lesson: opened at the machine, one mark a line, undone freely, finished once."""

from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from clients import queries as clients_queries
from clients.actions import seals
from clients.models import Client
from clients.rules.outcomes import DeskWord
from programming import models
from programming.actions import springs, standings
from programming.rules.marks import Decision, Mark
from scheduling import actions as scheduling_actions
from scheduling import queries as scheduling_queries
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused

NOTE_MOST = 2000


# A log may begin this long before the lesson: common practice, no source.
EARLIEST = timedelta(hours=2)


def check_care(client_id: UUID, *, by: Person, now: datetime) -> None:
    """Raises Refused for somebody who does not care for this client today: her lesson is not theirs to log."""
    client = Client.objects.select_related("home").get(pk=client_id)
    if not clients_queries.may_read_health(by, client_id, on=clients_queries.day_of(now, client)):
        says = "This lesson belongs to another teacher, so its run sheet is closed to you."
        raise Refused(Reason("not_hers", says, allowed="the day sheet hands a lesson over"))


def open_log(place_id: UUID, *, by: Person, now: datetime) -> models.Log:
    """The log of a place, begun if it is not yet: the client is here and the lesson has started.

    Raises Refused when nothing is planned for it, it is too early, the form is not current today, or `by` does not
    care for the client.
    """
    with transaction.atomic():
        place = scheduling_queries.place_facts(place_id)
        # First the client, as everywhere: a program assigned at the same moment waits for this or the other way round.
        Client.objects.select_for_update(no_key=True).get(pk=place.client_id)
        check_care(place.client_id, by=by, now=now)
        log = models.Log.objects.filter(place_id=place_id).first()
        if log is not None:
            return log
        program = models.Program.objects.filter(place_id=place_id, replaced_at=None).first()
        if program is None:
            raise Refused(Reason("no_program", "Nothing is planned for this lesson yet.", allowed="assign a program"))
        _check_start(place, now)
        log = models.Log.objects.create(place_id=place_id, program=program, kept_by=by, started_at=now)
        scheduling_actions.start_lesson(place_id, by=by, now=now)
        audit.wrote("open_log", log, by=by, now=now, client_key=program.client_id)
    return log


def _check_start(place: scheduling_queries.PlaceFacts, now: datetime) -> None:
    if now < place.span.start - EARLIEST:
        says = f"This lesson starts {place.start_wall:%A} {place.start_wall.day} {place.start_wall:%B at %H:%M}."
        raise Refused(Reason("too_early", says, allowed="mark its lines on the day"))
    form = clients_queries.form_standings([place.client_id], on=place.day)[place.client_id]
    if form.word is DeskWord.SPEAK:
        says = f"{place.client_name}'s form asks for a word with you first."
        raise Refused(Reason("speak_to_instructor", says, allowed="The brief says why; the lesson starts after that."))
    if form.word is not DeskWord.CURRENT:
        says = f"{place.client_name}'s health form is not current, so the lesson cannot start yet."
        allowed = "It can be filled in on this tablet, from the client's card."
        if "letter" in form.missing:
            allowed = "A letter is missing; the brief says which."
        raise Refused(Reason("form_not_current", says, allowed=allowed))


def mark_place_line(
    place_id: UUID,
    *,
    line_id: UUID,
    mark: Mark,
    by: Person,
    now: datetime,
    reps: int | None = None,
    score: int | None = None,
) -> models.LogLine:
    """Mark a line of a place's run sheet; the first mark begins the log. Raises as `open_log` and `mark_line` do."""
    with transaction.atomic():
        log = open_log(place_id, by=by, now=now)
        return mark_line(log.pk, line_id=line_id, mark=mark, by=by, now=now, reps=reps, score=score)


def mark_line(
    log_id: UUID,
    *,
    line_id: UUID,
    mark: Mark,
    by: Person,
    now: datetime,
    reps: int | None = None,
    score: int | None = None,
) -> models.LogLine:
    """Say what was done of one line; a second word on the same line replaces the first.

    Raises Refused for a finished log, a line of another program, a line that was left out, or a score outside 0 to 5.
    """
    with transaction.atomic():
        log = _open(log_id, by, now)
        line = _line_of(log, line_id)
        _check_numbers(reps, score)
        written, _ = models.LogLine.objects.update_or_create(
            log=log,
            program_line=line,
            defaults={
                "mark": mark.value,
                "reps": reps if reps is not None else (line.reps if mark is Mark.DONE else None),
                "score": None if mark is Mark.SKIPPED else score,
                "spring_set": line.spring_set,
                "marked_at": now,
            },
        )
        audit.wrote("mark_line", written, by=by, now=now, client_key=log.program.client_id)
    return written


def mark_rest(log_id: UUID, *, by: Person, now: datetime) -> int:
    """Say of every line that has no mark that it was done as planned; how many there were. Raises as `mark_line`."""
    with transaction.atomic():
        log = _open(log_id, by, now)
        lines = models.ProgramLine.objects.filter(program_id=log.program_id).exclude(decision=Decision.LEFT_OUT)
        rest = lines.exclude(pk__in=log.lines.values("program_line"))
        written = models.LogLine.objects.bulk_create(
            models.LogLine(
                log=log,
                program_line=line,
                mark=Mark.DONE.value,
                reps=line.reps,
                spring_set=line.spring_set,
                marked_at=now,
            )
            for line in rest
        )
        detail = {"lines": len(written)}
        audit.wrote("mark_rest", log, by=by, now=now, client_key=log.program.client_id, detail=detail)
    return len(written)


def score_line(log_id: UUID, *, line_id: UUID, score: int, by: Person, now: datetime) -> models.LogLine:
    """Say how a marked line went, 0 to 5. Raises Refused when it has no mark, was skipped, or the score is no score."""
    with transaction.atomic():
        log = _open(log_id, by, now)
        _check_numbers(None, score)
        written = models.LogLine.objects.filter(log=log, program_line_id=line_id).first()
        if written is None or written.mark == Mark.SKIPPED:
            raise Refused(Reason("no_mark", "Only a line that was practised has a score.", "score", "mark it first"))
        written.score = score
        written.save(update_fields=["score"])
        audit.wrote("score_line", written, by=by, now=now, client_key=log.program.client_id)
    return written


def undo_line(log_id: UUID, *, line_id: UUID, by: Person, now: datetime) -> None:
    """Take a line's mark back; nothing happens when it has none."""
    with transaction.atomic():
        log = _open(log_id, by, now)
        written = models.LogLine.objects.filter(log=log, program_line_id=line_id).first()
        if written:
            audit.wrote("undo_line", written, by=by, now=now, client_key=log.program.client_id)
            written.delete()


def note_log(log_id: UUID, *, note: str, by: Person, now: datetime, line_id: UUID | None = None) -> None:
    """Keep a note on the lesson, or on one marked line, sealed with the client's key; an empty note takes it away.

    Raises Refused when the note is too long, or the line has no mark yet.
    """
    note = note.strip()
    if len(note) > NOTE_MOST:
        says = f"A note has at most {NOTE_MOST:,} characters; this one has {len(note):,}."
        raise Refused(Reason("note_too_long", says, "note", f"up to {NOTE_MOST:,} characters"))
    with transaction.atomic():
        log = _open(log_id, by, now)
        row: models.Log | models.LogLine = log
        if line_id is not None:
            marked = models.LogLine.objects.filter(log=log, program_line_id=line_id).first()
            if marked is None:
                raise Refused(Reason("no_mark", "Mark the line first, then note what you saw.", "note"))
            row = marked
        client = Client.objects.get(pk=log.program.client_id)
        row.sealed_note = seals.sealed(note, row=row, column="sealed_note", client=client) if note else None
        row.save(update_fields=["sealed_note"])
        audit.wrote("note_log", row, by=by, now=now, client_key=client.pk)


def finish_log(log_id: UUID, *, by: Person, now: datetime) -> models.Log:
    """Close the log: where the client stands is worked out anew, the place is completed, the visit counted once.

    A finished log stays as it is, whoever asks again. Raises Refused when no line has a mark.
    """
    with transaction.atomic():
        client_id = models.Log.objects.values_list("program__client_id", flat=True).get(pk=log_id)
        Client.objects.select_for_update(no_key=True).get(pk=client_id)
        check_care(client_id, by=by, now=now)
        log = models.Log.objects.select_for_update(of=("self",)).select_related("program").get(pk=log_id)
        if log.finished_at:
            return log
        if not log.lines.exists():
            raise Refused(
                Reason("nothing_marked", "No line has a mark yet.", allowed="mark what was done, then finish")
            )
        log.finished_at = now
        log.save(update_fields=["finished_at"])
        standings.derive(client_id, _practised(log), now=now)
        scheduling_actions.complete_place(log.place_id, by=by, now=now)
        springs.hand_over_use(log)
        audit.wrote("finish_log", log, by=by, now=now, client_key=client_id)
    return log


def reopen_log(log_id: UUID, *, by: Person, now: datetime) -> models.Log:
    """Take the finishing back on the day of the lesson: the visit and the standings go back with it.

    A log that is open stays as it is. Raises Refused on another day, and for somebody who does not care for the client.
    """
    with transaction.atomic():
        client_id = models.Log.objects.values_list("program__client_id", flat=True).get(pk=log_id)
        client = Client.objects.select_for_update(of=("self",), no_key=True).select_related("home").get(pk=client_id)
        check_care(client_id, by=by, now=now)
        log = models.Log.objects.select_for_update(of=("self",)).select_related("program").get(pk=log_id)
        if log.finished_at is None:
            return log
        if clients_queries.day_of(now, client) != clients_queries.day_of(log.finished_at, client):
            says = "A log is opened again on the day it was finished."
            raise Refused(Reason("another_day", says, allowed="a note in the next lesson’s log"))
        log.finished_at = None
        log.save(update_fields=["finished_at"])
        standings.derive(client_id, _practised(log), now=now)
        scheduling_actions.reopen_place(log.place_id, by=by, now=now)
        springs.take_back_use(log)
        audit.wrote("reopen_log", log, by=by, now=now, client_key=client_id)
    return log


def finish_as_planned(log_id: UUID, *, by: Person, now: datetime) -> models.Log:
    """Close the log with every line that has no mark as done as planned. Raises Refused as `finish_log` does."""
    with transaction.atomic():
        # A second tap finds the log finished: nothing is left to mark, and finishing again is harmless.
        if models.Log.objects.filter(pk=log_id, finished_at=None).exists():
            mark_rest(log_id, by=by, now=now)
        return finish_log(log_id, by=by, now=now)


def read_note(log_id: UUID, *, by: Person, now: datetime) -> str:
    """The note of a lesson, opened; the reading is kept on record. Empty when there is none. Raises Refused."""
    with transaction.atomic():
        log = models.Log.objects.select_related("program__client").get(pk=log_id)
        check_care(log.program.client_id, by=by, now=now)
        return opened_note(log, by=by, now=now)


def opened_note(log: models.Log, *, by: Person, now: datetime, why: str = "care") -> str:
    """For callers that have asked already whether `by` may read."""
    if not log.sealed_note:
        return ""
    audit.read("read_note", log, by=by, now=now, client_key=log.program.client_id, why=why)
    return str(seals.opened(log, "sealed_note", client=log.program.client))


def _practised(log: models.Log) -> set[str]:
    practised = log.lines.exclude(mark=Mark.SKIPPED.value)
    return set(practised.values_list("program_line__exercise_id", flat=True))


def _open(log_id: UUID, by: Person, now: datetime) -> models.Log:
    log = models.Log.objects.select_for_update(of=("self",)).select_related("program").get(pk=log_id)
    if log.finished_at:
        raise Refused(Reason("log_finished", "This lesson is finished; its log stays as it is."))
    check_care(log.program.client_id, by=by, now=now)
    return log


def _line_of(log: models.Log, line_id: UUID) -> models.ProgramLine:
    line = models.ProgramLine.objects.filter(pk=line_id, program_id=log.program_id).first()
    if line is None:
        raise Refused(Reason("other_program", "That line is not on this run sheet.", "line"))
    if line.decision == Decision.LEFT_OUT:
        raise Refused(Reason("left_out", "That line was left out for this client.", "line"))
    return line


def _check_numbers(reps: int | None, score: int | None) -> None:
    if score is not None and not 0 <= score <= 5:
        raise Refused(Reason("score", "A score is between 0 and 5.", "score", "0 to 5"))
    if reps is not None and not 0 <= reps <= 200:
        raise Refused(Reason("reps", "Repetitions are between 0 and 200.", "reps", "0 to 200"))
