"""The first day of a house: the code that proves who installed it, and the steps that are done."""

import base64
import hashlib
import hmac

STEPS = ("account", "house", "hours", "machines", "teachers", "policy")
CODE_LETTERS = 12


def code(secret: str) -> str:
    """The code of the first day, always the same for one `secret`: "ABCD-EFGH-IJKL", 60 bits of an HMAC."""
    digest = hmac.new(secret.encode(), b"first day", hashlib.sha256).digest()
    letters = base64.b32encode(digest).decode()[:CODE_LETTERS]
    return "-".join(letters[at : at + 4] for at in range(0, CODE_LETTERS, 4))


def opens(typed: str, secret: str) -> bool:
    """Whether `typed` is that code, in small or capital letters, with or without strokes and spaces."""
    told = "".join(sign for sign in typed.upper() if sign.isalnum())
    return hmac.compare_digest(told.encode(), code(secret).replace("-", "").encode())


def first_open(done: dict[str, bool]) -> str:
    """The first step whose rows are missing; the last one once nothing is."""
    return next((step for step in STEPS if not done.get(step)), STEPS[-1])
