"""The words of each kind of notice until the owner writes her own.

Placeholders the kinds may use: {name} who is written to, {house} the business, {link} a private address,
{day} {time} {where} {teacher} of a lesson, {who} of the staff, {client} by name. Never a word about health.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Words:
    """Subject and body of a notice, with `{placeholders}`; `called` is what the office calls the kind."""

    called: str
    subject: str
    body: str


SIGNED = "\n\n{house}\n"

DEFAULT_WORDS: dict[str, Words] = {
    "invitation": Words(
        "invitation",
        "{who} asks you to join {house}",
        "Hello {name},\n\n{who} has made a place for you at {house}. Choose your password here; the link opens once, "
        "within seven days:\n\n{link}\n\nIf you do not know {house}, leave this letter alone." + SIGNED,
    ),
    "password_reset": Words(
        "new password",
        "A new password for {house}",
        "Hello {name},\n\nsomebody asked for a new password in your name. If it was you, choose one here; the link "
        "opens once, within a day:\n\n{link}\n\nIf it was not you, nothing has changed and you need do nothing."
        + SIGNED,
    ),
    "form_link": Words(
        "health form",
        "Your health form for {house}",
        "Hello {name},\n\nbefore your first lesson, and once in a while after, we ask a few questions so that we "
        "choose what is right for you. This private link is yours alone:\n\n{link}\n\nYou can stop and go on later; "
        "what you have answered is kept." + SIGNED,
    ),
    "lesson_reminder": Words(
        "reminder",
        "Your lesson on {day} at {time}",
        "Hello {name},\n\nyour lesson with {teacher} is on {day} at {time}, {where}.\n\nIf you cannot come, tell us as "
        "soon as you can." + SIGNED,
    ),
    "lesson_moved": Words(
        "lesson moved",
        "Your lesson is now on {day} at {time}",
        "Hello {name},\n\nyour lesson with {teacher} has moved. It is now on {day} at {time}, {where}.\n\nIf that does "
        "not suit you, tell us and we look for another time." + SIGNED,
    ),
    "lesson_cancelled": Words(
        "lesson cancelled",
        "Your lesson on {day} at {time} is cancelled",
        "Hello {name},\n\nyour lesson on {day} at {time}, {where}, is cancelled.\n\nTell us when you would like to "
        "come instead." + SIGNED,
    ),
    "review_due": Words(
        "reassessment due",
        "{client} is due to be measured again",
        "Hello {name},\n\n{client} is due to be measured again. You find what to measure on the brief of the next "
        "lesson." + SIGNED,
    ),
}
