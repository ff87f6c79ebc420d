"""A list of clients in a file: its signs, its columns and its days read, each row told apart from who is here."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from clients.rules.names import alike, name_key
from studio.rules import Reason, Refused

MOST_ROWS = 5000
MOST_BYTES = 2 * 1024 * 1024
MOST_COLUMNS = 60
DELIMITERS = ",;\t"
# What a spreadsheet would run as a formula when the file is opened again (OWASP, "CSV Injection"; from memory).
RUNS = ("=", "+", "-", "@", "\t", "\r")
DAY = re.compile(r"(\d{1,4})[./\- ](\d{1,2})[./\- ](\d{1,4})\.?(?:[T ]0{1,2}:00(?::00(?:\.0+)?)?)?")


class DayOrder(StrEnum):
    """How the days in the file are written; a year in front is understood in each of them."""

    ISO = "iso"
    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"


# What a column may hold: the words of a card, and the two halves of a name.
COLUMNS = {
    "name": "Name",
    "first_name": "First name",
    "last_name": "Last name",
    "email": "E-mail",
    "phone": "Phone",
    "born_on": "Born on",
    "pronoun": "Pronoun",
    "say_it": "How to say the name",
    "guardian_name": "Guardian",
    "emergency_name": "In an emergency, call",
    "emergency_phone": "Their phone",
    "notes": "Notes for everyone",
}
# Headers as studios write them, folded as names are (common words, no source).
GUESSES = {
    "name": "name|full name|client|client name|customer|member|nom complet|nombre completo|nome completo",
    "first_name": "first name|firstname|first|given name|forename|vorname|prenom|nombre|nome|voornaam|fornavn|imie",
    "last_name": "last name|lastname|last|surname|family name|nachname|nom|apellido|apellidos|sobrenome|achternaam"
    "|etternavn|efternavn|nazwisko",
    "email": "email|e-mail|mail|email address|e-mail address|e mail|correo|correio|courriel",
    "phone": "phone|telephone|mobile|mobile phone|cell|cell phone|phone number|tel|telefon|handy|telefono|telefone"
    "|telemovel|portable",
    "born_on": "born|born on|birthday|birth date|birthdate|date of birth|dob|geburtsdatum|geburtstag"
    "|date de naissance|fecha de nacimiento|data de nascimento",
    "pronoun": "pronoun|pronouns",
    "say_it": "say it|pronunciation|how to say",
    "guardian_name": "guardian|parent|parent or guardian|guardian name",
    "emergency_name": "emergency contact|emergency name|emergency contact name|in an emergency|notfallkontakt",
    "emergency_phone": "emergency phone|emergency contact phone|emergency number|notfallnummer",
    "notes": "notes|note|comment|comments|remarks|bemerkung|bemerkungen|remarques|notas|observacoes",
}
GUESS = {word: column for column, words in GUESSES.items() for word in words.split("|")}
HEALTH = (
    "health", "medical", "medic", "diagnos", "condition", "injur", "surger", "operation", "illness", "disease",
    "allerg", "pain", "pregnan", "symptom", "doctor", "physician", "limitation", "contraindication", "gesund",
    "krank", "verletz", "schmerz", "sante", "maladie", "blessure", "salud", "lesion", "saude", "doenca",
)  # fmt: skip


@dataclass(frozen=True)
class Sheet:
    """The header and the rows of a file, each with its line in it; rows have as many cells as the header."""

    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]


def sheet(content: bytes) -> Sheet:
    """A file's table. Raises Refused beside `file`: too_big, unreadable, no_rows, too_many, too_wide."""
    if len(content) > MOST_BYTES:
        raise _refused("too_big", "That file is too big.", "at most 2 MB")
    lines = _table(_text(content))
    if not lines:
        raise _refused("no_rows", "There is no list in that file.", "a first row of column names, then a row a person")
    header = tuple(cell.strip()[:80] for cell in lines[0][1])
    if len(header) > MOST_COLUMNS:
        raise _refused("too_wide", "That file has too many columns.", f"at most {MOST_COLUMNS}")
    rows = tuple((line, _as_wide(cells, len(header))) for line, cells in lines[1:])
    if not rows:
        raise _refused("no_rows", "There are column names in that file, and nobody under them.", "a row a person")
    if len(rows) > MOST_ROWS:
        says = f"That file has {len(rows)} rows."
        raise _refused("too_many", says, f"at most {MOST_ROWS} at once; split it in two")
    return Sheet(header, rows)


def _text(content: bytes) -> str:
    """UTF-8 or UTF-16 by their mark, UTF-16 by its zeros, else UTF-8, else the Western code page of older programs."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        tries = ["utf-16"]
    elif b"\x00" in content[:200]:
        tries = ["utf-16-be" if content[:1] == b"\x00" else "utf-16-le"]
    else:
        tries = ["utf-8-sig", "cp1252"]
    for name in tries:
        try:
            text = content.decode(name)
        except UnicodeDecodeError:
            continue
        if not re.search(r"[\x00-\x08\x0e-\x1f]", text):
            return text
    raise _refused("unreadable", "The signs in that file cannot be read.", "a CSV file, saved as UTF-8")


def _table(text: str) -> list[tuple[int, list[str]]]:
    """The table as the sign that gives the widest first row divides it."""
    usual = max(DELIMITERS, key=text.partition("\n")[0].count)
    found: list[list[tuple[int, list[str]]]] = []
    faults: list[str] = []
    for sign in (usual, *DELIMITERS):
        parsed, fault = _parsed(text, sign)
        if not fault:
            found.append(parsed)
        elif sign == usual:
            faults.append(fault)
    if not found:
        raise _refused("unreadable", faults[0], "a CSV file as a spreadsheet saves it")
    return [(line, cells) for line, cells in max(found, key=_width) if any(cell.strip() for cell in cells)]


def _parsed(text: str, delimiter: str) -> tuple[list[tuple[int, list[str]]], str]:
    """The rows with their first lines, or what is wrong with the file when this sign divides it."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, list[str]]] = []
    start = 1
    try:
        for cells in reader:
            rows.append((start, cells))
            start = reader.line_num + 1
    except csv.Error:
        return rows, f"A quotation mark is not closed, or one is too many, in line {start}."
    return rows, ""


def _width(rows: list[tuple[int, list[str]]]) -> int:
    return max((len(cells) for _, cells in rows[:1]), default=0)


def _as_wide(cells: list[str], width: int) -> tuple[str, ...]:
    """As many cells as the header has: missing ones are empty, what stands beyond goes to the last one's end."""
    kept = [cell.strip() for cell in cells[:width]]
    beyond = " ".join(cell.strip() for cell in cells[width:] if cell.strip())
    if beyond and kept:
        kept[-1] = f"{kept[-1]} {beyond}".strip()
    return tuple(kept + [""] * (width - len(kept)))


def guessed(header: Sequence[str]) -> tuple[str, ...]:
    """What each column probably holds; empty for one that is not taken. No kind is guessed twice."""
    found: list[str] = []
    for title in header:
        words = " ".join(re.split(r"[\s_\-./:*()]+", name_key(title))).strip()
        column = "" if is_health(title) else GUESS.get(words, "")
        found.append("" if column in found else column)
    return tuple(found)


def is_health(title: str) -> bool:
    """Whether a column seems to tell of health; such a column is never taken."""
    return any(stem in name_key(title) for stem in HEALTH)


def column_refusals(header: Sequence[str], columns: Sequence[str]) -> list[Reason]:
    """`unknown_column`, `twice`, `health_column` beside the column's number, `no_name` when nothing holds a name."""
    reasons = []
    for number, column in enumerate(columns):
        field = f"column_{number}"
        if column and column not in COLUMNS:
            reasons.append(Reason("unknown_column", "A card has no such field.", field, ", ".join(COLUMNS)))
        elif column and column in columns[:number]:
            reasons.append(Reason("twice", f"Two columns cannot both be {COLUMNS[column]}. Choose one of them.", field))
        elif column and is_health(header[number]):
            says = "This looks like health. It belongs on the client’s own form, where only the teachers read it."
            reasons.append(Reason("health_column", says, field, "not taken"))
    if not {"name", "first_name", "last_name"} & set(columns):
        reasons.append(Reason("no_name", "Which column holds the name?", "columns"))
    return reasons


def words_of(cells: Sequence[str], columns: Sequence[str]) -> dict[str, str]:
    """A row's words by the fields of a card; the halves of a name are joined."""
    told = {column: cell for column, cell in zip(columns, cells, strict=True) if column}
    halves = [told.pop("first_name", ""), told.pop("last_name", "")]
    told["name"] = told.get("name") or " ".join(half for half in halves if half)
    return told


def day_of(text: str, order: DayOrder) -> date | None:
    """A day as it is written in the file; None for an empty cell. Raises Refused `not_a_day` beside `born_on`."""
    if not text:
        return None
    found = DAY.fullmatch(text)
    parts = [found[1], found[2], found[3]] if found else []
    if parts and len(parts[0]) == 4:
        year, month, day = parts
    elif parts and len(parts[2]) == 4 and order is not DayOrder.ISO:
        day, month, year = parts if order is DayOrder.DAY_FIRST else (parts[1], parts[0], parts[2])
    else:
        allowed = {"iso": "1985-05-31", "day_first": "31.05.1985", "month_first": "05/31/1985"}[order]
        raise Refused(Reason("not_a_day", f"“{text[:20]}” is not a day like {allowed}.", "born_on", f"like {allowed}"))
    try:
        return date(int(year), int(month), int(day))
    except ValueError:
        raise Refused(Reason("not_a_day", f"There is no day “{text[:20]}”.", "born_on", "a day that is")) from None


class Neighbours:
    """Names and addresses that are known, so that a row which may be one of these people is noticed quickly."""

    def __init__(self) -> None:
        self._by_address: dict[str, str] = {}
        self._by_trace: dict[str, list[tuple[str, str]]] = {}

    def add(self, key: str, *, name: str, email: str) -> None:
        """Somebody known from now on; `key` is what `like` answers."""
        if email:
            self._by_address.setdefault(email.casefold(), key)
        for trace in _traces(name):
            self._by_trace.setdefault(trace, []).append((name, key))

    def like(self, *, name: str, email: str) -> str:
        """The key of somebody who may be this very person, as `names.alike` says or of the same address; or empty."""
        if email and (found := self._by_address.get(email.casefold())):
            return found
        for trace in _traces(name):
            for other, key in self._by_trace.get(trace, ()):
                if alike(other, name):
                    return key
        return ""


def _traces(name: str) -> Iterable[str]:
    """What two names that are alike have in common: the words in order, or the key with one sign taken out."""
    key = name_key(name)
    words = " ".join(sorted(re.split(r"\W+", key)))
    return {f"w{words}", key, *(key[:at] + key[at + 1 :] for at in range(len(key)))}


def guarded(cell: str) -> str:
    """A cell that no spreadsheet runs as a formula when the file is opened."""
    return f"'{cell}" if cell.startswith(RUNS) else cell


def refused_file(header: Sequence[str], rows: Iterable[tuple[int, Sequence[str], str]]) -> str:
    """The rows that were not brought in as a CSV file, each with its line and why."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow([guarded(cell) for cell in ("Line", *header, "Why")])
    for line, cells, why in rows:
        writer.writerow([str(line), *(guarded(cell) for cell in cells), guarded(why)])
    return text.getvalue()


def _refused(code: str, says: str, allowed: str) -> Refused:
    return Refused(Reason(code, says, "file", allowed))
