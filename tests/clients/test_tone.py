"""Every message that a client or the desk can see, read for its tone.

Nothing is listed by hand: the questions come from the form itself, the words of gates and signs from the reference,
the letters from the table of notices, and all else from the sources and the templates, so that a new message is read
with the others. What is avoided is named in the text on screening: nothing prevents, treats, clears or is a medical
alert; nobody is called safe or fit for anything; nothing is diagnosed.
"""

import ast
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest

from clients.rules import Rulebook, form
from clients.rules.form import questions
from clients.rules.form.recheck import recheck_screens
from clients.rules.form.screens import due_screens
from studio.rules.notice_texts import DEFAULT_WORDS
from tests.reference import table, tables

ROOT = Path(__file__).resolve().parent.parent.parent
BOOK = Rulebook.from_tables(tables())
ON = date(2026, 3, 2)
# Cells of the reference that are shown as they stand.
SHOWN_CELLS = {
    "symptoms": ("question",),
    "health_questions": ("question", "why_we_ask"),
    "red_flags": ("question", "action"),
    "pregnancy_gates": ("statement", "action"),
    "bp_gates": ("action", "extra_condition"),
    "stop_signs": ("statement", "action"),
    "acsm_leaves": ("bookable",),
    "conditions": ("name", "phase_or_window", "clearance_when"),
    "limits": ("how",),
    "demands": ("name", "default_adapt"),
    "source_disagreements": ("point", "position_a", "position_b", "default_rule"),
}
APPS = ("clients", "scheduling", "studio")
SHOWN_ROOMS = ("rules", "queries", "actions", "forms", "pages", "doors", "templatetags")
# Of clients, pages that only a teacher or the owner opens; what a client reads begins with form, what the desk reads
# with card, list, add and change.
BY_CLIENTS = ("form_",)

FORBIDDEN = {
    r"\bprevent(s|ed|ing)?\b": (),
    # A person treats; nothing here does.
    r"\btreats\b": (r"\b(who|whoever|somebody who|someone who|anyone who) treats\b",),
    r"\bclears\b": (),
    r"\bmedical alert": (),
    # Of the house, never of a person.
    r"\bsafe(ly|r|st)?\b": (r"\bSafe, without standing in the room\b",),
    r"\bfit (for|to|enough)\b|\b(is|are|be) fit\b": (
        r"\bdoes not diagnose, treat, or say that you are fit\b",
        r"\bdoes not say that anybody is fit\b",
    ),
    r"\bdiagnos": (
        r"\bdo(es)? not diagnose\b",
        r"\ba new diagnosis\b",
        r"\bnew diagnosis, operation\b",
        r"\bnever diagnosed\b",
        r"\bdiagnosed or treated\b",
        r"\b(never|no|not a|none is a) (a )?diagnosis\b",
    ),
    r"\b(cure|heal)s\b": (),
    r"!": (r"!=",),
}
BLAME = (
    r"\binvalid\b",
    r"\billegal\b",
    r"\bincorrect(ly)?\b",
    r"\byou(r \w+)? fail(ed|s)?\b",
    r"\bforgot(ten)?\b",
    r"\bmistakes?\b",
    r"\bfault\b",
    r"\byou did not\b",
    r"\byou have not\b",
    r"\byou should have\b",
    r"\bnot allowed\b",
    r"\bforbidden\b",
    r"\boops\b",
    r"\bsorry\b",
)
MACHINE_WORDS = (
    r"database", r"(?<!mail )server", r"UUID", r"JSON", r"null", r"exception",
    r"HTTP", r"submit", r"token",
)  # fmt: skip
LEARNED_WORDS = (
    r"\bcontraindicat", r"\bhypertensi", r"\bhypotensi", r"\bcardiac\b", r"\bcardiovascular\b", r"\brenal\b",
    r"\bmetabolic\b", r"\bgestation", r"\bsupine\b", r"\bprone\b", r"\bflexion\b", r"\badduct",
    r"\babduct", r"\bsyncope\b", r"\bdyspn", r"\boedema\b", r"\bcomorbid", r"\bsystolic\b", r"\bdiastolic\b",
    r"\bsymptomatic\b", r"\bonset\b", r"\bpalpitation", r"\bclinician\b", r"\bparity\b", r"\bpostpartum\b",
)  # fmt: skip
LONGEST_SENTENCE, LONGEST_QUESTION = 28, 45
WAY_FORWARD = re.compile(
    r"\b(please|choose|say|ask|call|write|give|open|try|go back|look|cancel|tell|enter|wait|take|measure|send|pick)\b"
    r"|\bfirst\b|\bagain\b|\bneed(s|ed)?\b|\bonly\b|\bat (most|least)\b|\bhas an?\b|\bone to\b|\bafter\b|\bbefore\b"
    # The wish is fulfilled, or there is nothing it could be about.
    r"|\balready\b|\bnothing\b|\bboth positions are known\b|\bno such\b|\bno way back\b|\bnot answered\b|\?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Message:
    """Words that somebody reads, and where they stand."""

    where: str
    words: str

    def __str__(self) -> str:
        return f"{self.where}: {self.words}"


@cache
def asked() -> tuple[Message, ...]:
    """The whole form with everything told, the re-check, and the words of an emergency."""
    told: dict[str, object] = {
        "S1": "yes",
        "H05": "high_and_low",
        "H05.value": {"systolic": 190, "diastolic": 90},
        "H07.where": [choice.value for choice in questions.WHERE],
        "H13": ["pregnant", "birth", "loss"],
        "H16": ["leave_out", "supervised"],
        **dict.fromkeys(questions.REVEALS, "yes"),
        **{f"{one}.conditions": list(ids) for one, ids in questions.REVEALS.items()},
    }
    screens = due_screens(BOOK, told, on=ON)
    screens += recheck_screens(BOOK, told, on=ON, told_on=ON - timedelta(days=60))
    screens += form.screens(BOOK, {"F20": "yes"}, on=ON)[-1:]
    found = []
    for screen in screens:
        found += [Message(f"screen {screen.id}", one) for one in (screen.title, screen.question, screen.why) if one]
        for field in screen.fields:
            words = (field.label, field.help, *(choice.label for choice in field.choices))
            found += [Message(f"field {field.id}", one) for one in words if one]
    return tuple(dict.fromkeys(found))


@cache
def referred() -> tuple[Message, ...]:
    """The cells of the reference that a screen or a reason shows."""
    return tuple(
        Message(f"{name}.{column} of row {place}", row[column])
        for name, columns in SHOWN_CELLS.items()
        for place, row in enumerate(table(name), start=1)
        for column in columns
        if row[column]
    )


@cache
def posted() -> tuple[Message, ...]:
    """The letters as they leave until the owner writes her own."""
    return tuple(
        Message(f"letter {kind}", part) for kind, words in DEFAULT_WORDS.items() for part in (words.subject, words.body)
    )


def said(node: ast.AST | None) -> str:
    """The words of a literal, with … for what is filled in; empty when it holds none."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(said(part) if isinstance(part, ast.Constant) else "…" for part in node.values)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return (said(node.left) or "…") + (said(node.right) or "…")
    if isinstance(node, ast.IfExp):
        return f"{said(node.body)} {said(node.orelse)}".strip()
    return ""


def sources() -> Iterator[tuple[str, ast.Module]]:
    for app in APPS:
        for path in sorted((ROOT / app).rglob("*.py")):
            room = path.relative_to(ROOT / app).parts[0].removesuffix(".py")
            if room in SHOWN_ROOMS:
                yield str(path.relative_to(ROOT)), ast.parse(path.read_text(encoding="utf-8"))


def unspoken(tree: ast.Module) -> set[int]:
    """The literals that nobody is shown: what documents the code, and what an unexpected failure says to its log."""
    hidden: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            hidden.add(id(node.value))
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and _raises_loudly(node.exc):
            hidden |= {id(part) for part in ast.walk(node.exc)}
        if isinstance(node, ast.JoinedStr):
            hidden |= {id(part) for part in node.values}
    return hidden


def _raises_loudly(call: ast.Call) -> bool:
    return isinstance(call.func, ast.Name) and call.func.id in ("ValueError", "KeyError", "TypeError", "RuntimeError")


def is_sentence(words: str) -> bool:
    """Whether a literal reads as words for people: three of them or more, and no line of a program."""
    return len(re.findall(r"[A-Za-z…]+", words)) >= 3 and not re.search(r"[{}<>\\=_|%]|^\w+\.\w+\.", words)


@cache
def coded() -> tuple[Message, ...]:
    """Each sentence in the code of the apps that a client or the desk sees."""
    found = []
    for where, tree in sources():
        hidden = unspoken(tree)
        for node in ast.walk(tree):
            words = "" if id(node) in hidden else said(node)
            if words and is_sentence(words):
                found.append(Message(f"{where}:{getattr(node, 'lineno', 0)}", words))
    return tuple(found)


class Drawn(HTMLParser):
    """The words of a template: its text, and the labels that a screen reader speaks."""

    # Words inside a sentence; every other element begins a line of its own.
    INLINE = frozenset({"strong", "em", "b", "i", "code", "abbr", "time", "q", "var"})
    SPOKEN = frozenset({"aria-label", "title", "placeholder", "alt"})

    def __init__(self) -> None:
        super().__init__()
        self.parts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.parts += [] if tag in self.INLINE else ["\n"]
        self.parts += [f"\n{value}\n" for name, value in attrs if name in self.SPOKEN and value]

    def handle_endtag(self, tag: str) -> None:
        self.parts += [] if tag in self.INLINE else ["\n"]

    def handle_data(self, data: str) -> None:
        self.parts.append(data)


def drawn(path: Path) -> list[Message]:
    text = re.sub(r"{#.*?#}|{% comment %}.*?{% endcomment %}", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    text = re.sub(r"{%.*?%}", "\n", re.sub(r"{{.*?}}", "…", text), flags=re.DOTALL)
    parser = Drawn()
    parser.feed(text)
    lines = (re.sub(r"\s+", " ", line).strip() for line in "".join(parser.parts).split("\n"))
    where = str(path.relative_to(ROOT))
    return [Message(where, line) for line in lines if len(line.split()) > 1]


@cache
def templated() -> tuple[Message, ...]:
    paths = [path for app in APPS for path in sorted((ROOT / app / "templates").rglob("*.html"))]
    return tuple(dict.fromkeys(message for path in paths for message in drawn(path)))


def all_messages() -> tuple[Message, ...]:
    return (*asked(), *referred(), *posted(), *coded(), *templated())


def read_by_clients() -> list[Message]:
    """What a client reads herself: the form, its pages, the questions back, and the letters."""
    pages = [one for one in templated() if Path(one.where).name.startswith(BY_CLIENTS)]
    back = [one for one in coded() if one.where.startswith("clients/rules/form/")]
    # The names of what she may have are those she was given by her doctor.
    names = {row.name for row in BOOK.conditions.values()} | set(questions.LABELS.values())
    return [one for one in (*asked(), *pages, *back, *posted()) if one.words not in names]


def refusals() -> list[tuple[str, str, bool]]:
    """Each reason given for a refusal: where, its words, and whether it says what would be allowed."""
    found = []
    for where, tree in sources():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Reason":
                named = {keyword.arg: keyword.value for keyword in node.keywords}
                says = said(named.get("says") or (node.args[1] if len(node.args) > 1 else None))
                found.append((f"{where}:{node.lineno}", says, "allowed" in named or len(node.args) > 3))
    return found


def strays(messages: Iterable[Message], *patterns: str) -> list[str]:
    wanted = re.compile("|".join(patterns), re.IGNORECASE)
    return [str(one) for one in messages if wanted.search(one.words)]


def test_the_messages_are_really_collected():
    counts = [len(one) for one in (asked(), referred(), posted(), coded(), templated())]
    assert all(count > least for count, least in zip(counts, (250, 900, 10, 200, 200), strict=True)), counts
    words = {one.words for one in all_messages()}
    assert "Call your local emergency number now, or ask someone near you to call." in words
    assert {row.question for row in BOOK.red_flags.values()} <= words
    assert any("higher one comes first" in one.words for one in coded())


@pytest.mark.parametrize("pattern", FORBIDDEN)
def test_no_message_promises_warns_or_judges(pattern):
    allowed = re.compile("|".join(FORBIDDEN[pattern]) or r"(?!)", re.IGNORECASE)
    found = [str(one) for one in all_messages() if re.search(pattern, allowed.sub("", one.words), re.IGNORECASE)]
    assert found == []


def test_no_message_blames():
    assert strays(all_messages(), *BLAME) == []


def test_no_message_talks_of_the_machine():
    assert strays(all_messages(), *MACHINE_WORDS) == []


def test_what_a_client_reads_is_in_plain_words():
    assert strays(read_by_clients(), *LEARNED_WORDS) == []


def test_no_sentence_is_longer_than_a_breath():
    long = [
        f"{len(sentence.split())} words, {one}"
        for one in (*asked(), *posted(), *coded(), *templated())
        for sentence in re.split(r"(?<=[.?:;])\s", one.words)
        if len(sentence.split()) > LONGEST_SENTENCE
    ]
    assert long == []


def test_no_question_is_longer_than_can_be_read_at_once():
    assert [str(one) for one in asked() if len(one.words.split()) > LONGEST_QUESTION] == []


def test_a_refusal_says_what_would_be_allowed_or_what_to_do():
    stuck = [f"{where}: {says}" for where, says, is_open in refusals() if re.search("[a-z]", says) and not is_open]
    assert [one for one in stuck if not WAY_FORWARD.search(one.split(": ", 1)[1])] == []


def test_the_words_of_an_emergency_stand_alone_and_say_what_to_do():
    emergency = form.screens(BOOK, {"F20": "yes"}, on=ON)[-1]
    assert (emergency.fields, emergency.why) == ((), "")
    assert emergency.question.startswith("Call ")


def test_every_letter_greets_signs_and_holds_no_health_word():
    health = (
        r"\bpain\b",
        r"\bhealth (problem|issue)",
        r"\bcondition",
        r"\blimit",
        r"\bpregnan",
        r"\bsurger",
        r"\bdoctor",
    )
    assert strays(posted(), *health) == []
    for kind, words in DEFAULT_WORDS.items():
        assert words.body.startswith("Hello {name},"), kind
        assert words.body.rstrip().endswith("{house}"), kind
