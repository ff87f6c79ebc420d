"""The words of each kind of notice until the owner writes her own, and the placeholders they may use.

Never a word about health.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Placeholder:
    """A `{name}` that a letter fills in: what stands for it, and an example for looking at the words."""

    says: str
    example: str


PLACEHOLDERS = {
    "name": Placeholder("who is written to", "Ada Merrow"),
    "house": Placeholder("the business", "The house"),
    "link": Placeholder("the private address, made for each letter", "https://house.example/a-private-address/"),
    "day": Placeholder("the day of the lesson", "Thursday 12 March"),
    "time": Placeholder("when it begins", "09:00"),
    "where": Placeholder("the location", "Weir Street"),
    "teacher": Placeholder("who teaches", "Henrike Aldous"),
    "who": Placeholder("who of the staff invites", "Teodora Quist"),
    "client": Placeholder("the client’s name", "Oswin Threll"),
}
LESSON = ("name", "day", "time", "where", "teacher", "house")


@dataclass(frozen=True)
class Words:
    """Subject and body of a notice, with `{placeholders}`.

    `called` is what the office calls the kind, `knows` the placeholders that get a value in it.
    """

    called: str
    subject: str
    body: str
    knows: tuple[str, ...] = tuple(PLACEHOLDERS)


SIGNED = "\n\n{house}\n"

DEFAULT_WORDS: dict[str, Words] = {
    "invitation": Words(
        "invitation",
        "{who} asks you to join {house}",
        "Hello {name},\n\n{who} has made a place for you at {house}. Choose your password here; the link opens once, "
        "within seven days:\n\n{link}\n\nIf you do not know {house}, leave this letter alone." + SIGNED,
        ("name", "who", "link", "house"),
    ),
    "password_reset": Words(
        "new password",
        "A new password for {house}",
        "Hello {name},\n\nsomebody asked for a new password in your name. If it was you, choose one here; the link "
        "opens once, within a day:\n\n{link}\n\nIf it was not you, nothing has changed and you need do nothing."
        + SIGNED,
        ("name", "link", "house"),
    ),
    "form_link": Words(
        "health form",
        "Your health form for {house}",
        "Hello {name},\n\nbefore your first lesson, and once in a while after, we ask a few questions so that we "
        "choose what is right for you. This private link is yours alone:\n\n{link}\n\nYou can stop and go on later; "
        "what you have answered is kept." + SIGNED,
        ("name", "link", "house"),
    ),
    "form_recheck": Words(
        "re-check of the form",
        "A minute for {house} before your next lesson",
        "Hello {name},\n\nyou have filled in our form before. Please tell us whether it is still so; it takes about a "
        "minute. This private link is yours alone:\n\n{link}" + SIGNED,
        ("name", "link", "house"),
    ),
    "lesson_reminder": Words(
        "reminder",
        "Your lesson on {day} at {time}",
        "Hello {name},\n\nyour lesson with {teacher} is on {day} at {time}, {where}.\n\nIf you cannot come, tell us as "
        "soon as you can." + SIGNED,
        LESSON,
    ),
    "lesson_moved": Words(
        "lesson moved",
        "Your lesson is now on {day} at {time}",
        "Hello {name},\n\nyour lesson with {teacher} has moved. It is now on {day} at {time}, {where}.\n\nIf that does "
        "not suit you, tell us and we look for another time." + SIGNED,
        LESSON,
    ),
    "lesson_cancelled": Words(
        "lesson cancelled",
        "Your lesson on {day} at {time} is cancelled",
        "Hello {name},\n\nyour lesson on {day} at {time}, {where}, is cancelled.\n\nTell us when you would like to "
        "come instead." + SIGNED,
        LESSON,
    ),
    "letter_wanted": Words(
        "paper waited for",
        "A paper that {house} still waits for",
        "Hello {name},\n\nbefore your next lesson we still need the paper that we asked you to bring. Hand it in at "
        "the desk, or bring it along to your lesson; a photograph of it taken here will do.\n\nIf it takes longer, or "
        "if you do not know which paper is meant, tell us: we are glad to help." + SIGNED,
        ("name", "house"),
    ),
    "letter_arrived": Words(
        "paper to read",
        "A paper waits for you to read",
        "Hello {name},\n\nsomebody who comes to you has handed in a paper. You find it under “Papers to read” on your "
        "floor page, once you are signed in." + SIGNED,
        ("name", "house"),
    ),
    "changes_ahead": Words(
        "changes ahead",
        "Something changes for your clients within a month",
        "Hello {name},\n\nfor somebody who comes to you, something changes by itself within the next thirty days. You "
        "find who and what under “Coming up” on your floor page, once you are signed in." + SIGNED,
        ("name", "house"),
    ),
    "review_due": Words(
        "reassessment due",
        "{client} is due to be measured again",
        "Hello {name},\n\n{client} is due to be measured again. You find what to measure on the brief of the next "
        "lesson." + SIGNED,
        ("name", "client", "house"),
    ),
}
