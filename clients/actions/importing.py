"""A studio's list of clients brought in from a file: looked at row by row, then whole or not at all."""

import hashlib
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID, uuid4

from django.db import transaction

from clients import models
from clients.actions import locks, people, seals
from clients.queries import importing as looked_up
from clients.rules import importing as rules
from clients.rules.names import name_key
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused

State = models.ClientImport.State
BATCH = 500


@dataclass(frozen=True)
class Row:
    """One row as it would be brought in. `like` names the card or the line it looks like; `reasons` refuse it."""

    line: int
    cells: tuple[str, ...]
    words: dict[str, str]
    born_on: date | None
    like: str
    like_id: UUID | None
    reasons: tuple[Reason, ...]

    @property
    def why(self) -> str:
        """Why it is not brought in, in words; empty for a good row."""
        faults = [f"{rules.COLUMNS.get(one.field, one.field)}: {one.says}" for one in self.reasons]
        return " ".join(faults) or (f"Looks like {self.like}." if self.like else "")


@dataclass(frozen=True)
class Preview:
    """What would become of each row. `seen` is the mark of exactly this, and travels with the decision."""

    header: tuple[str, ...]
    columns: tuple[str, ...]
    days: rules.DayOrder
    faults: tuple[Reason, ...]
    good: tuple[Row, ...]
    alike: tuple[Row, ...]
    refused: tuple[Row, ...]

    @property
    def left_out(self) -> tuple[str, ...]:
        """Titles of the columns that are not taken, those about health with why."""
        untaken = (title for title, column in zip(self.header, self.columns, strict=True) if title and not column)
        return tuple(
            f"{title} (health stays on the client’s own form)" if rules.is_health(title) else title for title in untaken
        )

    @property
    def seen(self) -> str:
        told = ";".join(f"{row.line},{row.like}" for row in (*self.good, *self.alike))
        return hashlib.sha256(f"{self.columns}{self.days}{told}".encode()).hexdigest()[:32]


def look_at_list(
    file_name: str, content: bytes, *, by: studio_models.Person | None, now: datetime
) -> models.ClientImport:
    """Read a file and keep its rows until they are brought in or left; rows of earlier lists are forgotten.

    Raises Refused beside `file`: too_big, unreadable, no_rows, too_many, too_wide.
    """
    sheet = rules.sheet(content)
    columns = rules.guessed(sheet.header)
    kept = {"header": sheet.header, "columns": columns, "days": rules.DayOrder.ISO, "lines": sheet.rows}
    with transaction.atomic():
        _forget_earlier(by, now)
        name = "".join(sign for sign in file_name if sign.isprintable())[-120:] or "list.csv"
        found = models.ClientImport.objects.create(
            file_name=name, rows=kept, good=0, refused=0, made_by=by, made_at=now
        )
        audit.wrote("look_at_list", found, by=by, now=now, detail={"rows": len(sheet.rows)})
    return found


def set_columns(
    import_id: UUID, *, columns: Sequence[str], days: str, by: studio_models.Person | None, now: datetime
) -> models.ClientImport:
    """What each column holds, and how days are written.

    Raises Refused `finished`, `unknown_order`, and column_refusals' codes.
    """
    with transaction.atomic():
        found = _open(import_id)
        header = found.rows["header"]
        if len(columns) != len(header):
            raise Refused(Reason("unknown_column", "That is not this file.", "columns", "a choice for each column"))
        if days not in set(rules.DayOrder):
            raise Refused(Reason("unknown_order", "Choose how days are written.", "days", ", ".join(rules.DayOrder)))
        if reasons := rules.column_refusals(header, columns):
            raise Refused(reasons)
        found.rows = found.rows | {"columns": list(columns), "days": days}
        found.save(update_fields=["rows"])
        audit.wrote("set_columns", found, by=by, now=now)
    return found


def preview_list(import_id: UUID, *, now: datetime) -> Preview:
    """What would become of each row today. Raises Refused `finished`."""
    return _preview(looked_up.open_import(import_id), now)


def bring_in_list(
    import_id: UUID, *, also: Collection[int] = (), seen: str, by: studio_models.Person | None, now: datetime
) -> int:
    """Bring in every good row, and of those that look like somebody the lines in `also`; how many cards were made.

    All or nothing. Raises Refused `finished`, `changed` when a row's fate is not what was `seen`, `no_name`, `nobody`.
    """
    with transaction.atomic():
        found = _open(import_id)
        # Of two lists at once, the second sees the cards of the first.
        locks.alone("add_client")
        preview = _preview(found, now)
        if preview.seen != seen:
            says = "Somebody changed cards or columns since you looked. Please look again."
            raise Refused(Reason("changed", says, "seen"))
        rows = [*preview.good, *(row for row in preview.alike if row.line in also)]
        if preview.faults or not rows:
            raise Refused(
                preview.faults
                or [
                    Reason(
                        "nobody", "No row can be brought in as it stands. Look at the reasons beside them.", "columns"
                    )
                ]
            )
        contacts = _write(found, rows, by, now)
        _finish(found, preview, {row.line for row in rows}, contacts, now)
        audit.wrote("bring_in_list", found, by=by, now=now, detail={"cards": len(rows)})
    return len(rows)


def take_back_list(import_id: UUID, *, by: studio_models.Person | None, now: datetime) -> int:
    """Take every card of a list away again, while nothing was done with any of them; how many there were.

    Raises Refused `not_brought_in`, `in_use` naming the cards that something was done with.
    """
    with transaction.atomic():
        found = models.ClientImport.objects.select_for_update().get(pk=import_id)
        if found.state != State.BROUGHT_IN:
            raise Refused(Reason("not_brought_in", "There is nothing to take back.", "import"))
        cards = list(found.clients.select_for_update().order_by("pk"))
        if in_use := looked_up.in_use([card.pk for card in cards]):
            names = ", ".join(sorted(in_use)[:5])
            says = f"Something was done with {len(in_use)} of these cards since: {names}."
            raise Refused(Reason("in_use", says, "import", "a list that nothing was done with"))
        models.Client.objects.filter(pk__in=[card.pk for card in cards]).delete()
        for contact_id in found.rows.get("contacts", []):
            looked_up.contact_of_nobody(contact_id).delete()
        found.state, found.rows, found.finished_at = State.TAKEN_BACK, {}, now
        found.save(update_fields=["state", "rows", "finished_at"])
        audit.wrote("take_back_list", found, by=by, now=now, detail={"cards": len(cards)})
    return len(cards)


def leave_list(import_id: UUID, *, by: studio_models.Person | None, now: datetime) -> None:
    """Forget a list that was only looked at. Raises Refused `finished`."""
    with transaction.atomic():
        found = _open(import_id)
        found.state, found.rows, found.finished_at = State.LEFT, {}, now
        found.save(update_fields=["state", "rows", "finished_at"])
        audit.wrote("leave_list", found, by=by, now=now)


def rest_of_list(import_id: UUID, *, now: datetime) -> str:
    """The rows that are not brought in, as a CSV file with why. Raises Refused `finished` when they are forgotten."""
    found = models.ClientImport.objects.get(pk=import_id)
    if found.state == State.LOOKED_AT:
        preview = _preview(found, now)
        return rules.refused_file(preview.header, _rest(preview, ()))
    if "rest" not in found.rows:
        raise Refused(looked_up.FINISHED)
    return rules.refused_file(found.rows["header"], found.rows["rest"])


def _open(import_id: UUID) -> models.ClientImport:
    found = models.ClientImport.objects.select_for_update().get(pk=import_id)
    if found.state != State.LOOKED_AT:
        raise Refused(looked_up.FINISHED)
    return found


def _preview(found: models.ClientImport, now: datetime) -> Preview:
    kept = found.rows
    header, columns, days = tuple(kept["header"]), tuple(kept["columns"]), rules.DayOrder(kept["days"])
    faults = rules.column_refusals(header, columns)
    known = looked_up.everybody()
    neighbours = rules.Neighbours()
    for key, (name, email) in known.items():
        neighbours.add(str(key), name=name, email=email)
    rows = [_row(line, tuple(cells), columns, days, now) for line, cells in kept["lines"]] if not faults else []
    told = [_compared(row, neighbours, known) for row in rows]
    return Preview(
        header,
        columns,
        days,
        tuple(faults),
        good=tuple(row for row in told if not row.reasons and not row.like),
        alike=tuple(row for row in told if not row.reasons and row.like),
        refused=tuple(row for row in told if row.reasons),
    )


def _row(line: int, cells: tuple[str, ...], columns: Sequence[str], days: rules.DayOrder, now: datetime) -> Row:
    words, born_on = rules.words_of(cells, columns), None
    reasons: list[Reason] = []
    try:
        born_on = rules.day_of(words.pop("born_on", ""), days)
    except Refused as refused:
        reasons += refused.reasons
    given = {key: words.get(key, "") for key in people.LONGEST}
    try:
        given = people.checked(given, born_on=born_on, home_id=None, now=now)
    except Refused as refused:
        reasons += refused.reasons
    return Row(line, cells, given, born_on, "", None, tuple(reasons))


def _compared(row: Row, neighbours: rules.Neighbours, known: dict[UUID, tuple[str, str]]) -> Row:
    """The row with whom it looks like; a good row is a neighbour of those below it."""
    if row.reasons:
        return row
    name, email = row.words["name"], row.words["email"]
    key = neighbours.like(name=name, email=email)
    neighbours.add(f"line {row.line}", name=name, email=email)
    if not key:
        return row
    if key.startswith("line "):
        like, like_id = f"{key} of this list", None
    else:
        like_id = UUID(key)
        like = f"{known[like_id][0]}, who is here already"
    return Row(row.line, row.cells, row.words, row.born_on, like, like_id, row.reasons)


def _write(
    found: models.ClientImport, rows: Sequence[Row], by: studio_models.Person | None, now: datetime
) -> list[int]:
    """The cards, and the contacts that were made for them."""
    emails = {row.words["email"].casefold() for row in rows if row.words["email"]}
    contacts = looked_up.contacts_at(emails)
    made = [studio_models.Contact(address=email) for email in sorted(emails - contacts.keys())]
    studio_models.Contact.objects.bulk_create(made, batch_size=BATCH)
    contacts |= {one.address.casefold(): one.pk for one in made}
    cards = [_card(found, row, contacts, by, now) for row in rows]
    models.Client.objects.bulk_create(cards, batch_size=BATCH)
    for card in cards:
        audit.wrote("import_client", card, by=by, now=now, client_key=card.pk)
    return [one.pk for one in made]


def _card(
    found: models.ClientImport, row: Row, contacts: dict[str, int], by: studio_models.Person | None, now: datetime
) -> models.Client:
    words = {key: text for key, text in row.words.items() if key != "email"}
    card = models.Client(id=uuid4(), born_on=row.born_on, made_by=by, made_at=now, imported_in=found, **words)
    card.name_key = name_key(card.name)[: people.KEY_LENGTH]
    card.contact_id = contacts.get(row.words["email"].casefold())
    card.wrapped_key = seals.fresh_wrapped_key(card.pk)
    return card


def _finish(
    found: models.ClientImport, preview: Preview, brought: Collection[int], contacts: list[int], now: datetime
) -> None:
    rest = _rest(preview, brought)
    found.state, found.finished_at, found.good, found.refused = State.BROUGHT_IN, now, len(brought), len(rest)
    found.rows = {"header": preview.header, "rest": rest, "contacts": contacts}
    found.save(update_fields=["state", "finished_at", "good", "refused", "rows"])


def _rest(preview: Preview, brought: Collection[int]) -> list[tuple[int, Sequence[str], str]]:
    rows = sorted((*preview.alike, *preview.refused), key=lambda row: row.line)
    return [(row.line, row.cells, row.why) for row in rows if row.line not in brought]


def _forget_earlier(by: studio_models.Person | None, now: datetime) -> None:
    """Names of people who are no clients are not kept for longer than somebody works on them."""
    for earlier in models.ClientImport.objects.filter(state=State.BROUGHT_IN).exclude(rows={}):
        earlier.rows = {"contacts": earlier.rows.get("contacts", [])}
        earlier.save(update_fields=["rows"])
    mine = models.ClientImport.objects.filter(state=State.LOOKED_AT, made_by=by)
    mine.update(state=State.LEFT, rows={}, finished_at=now)
