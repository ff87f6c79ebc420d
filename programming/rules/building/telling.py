"""A line in words: what is changed at the machine before it, and what its set-up keys are called."""

from programming.rules.lines import Line

KEY_WORDS = {
    "footbar": "foot bar",
    "headrest": "headrest",
    "box": "box",
    "attach": "held",
    "pad": "pad",
    "bar": "bar",
    "anchor": "anchor",
    "class": "springs of class",
    "safety_strap": "safety strap",
    "hooks": "hooks",
    "loops": "loops",
    "handles": "handles",
    "sling": "sling",
    "pedal": "pedal",
    "barrel": "barrel",
    "mat": "mat",
}
# In the order in which a teacher's hand goes over the machine.
TOLD = ("footbar", "headrest", "box", "attach", "bar", "anchor", "loops", "handles")


def key_words(key: str) -> str:
    return KEY_WORDS.get(key, key.replace("_", " "))


def value_words(value: str) -> str:
    return value.replace("_", " ")


def setting_words(key: str, value: str) -> str:
    """`foot bar down`, `long box`, `no box`, `handles in hand`, `hands free`."""
    words = value_words(value)
    if key == "box":
        return "no box" if value == "none" else f"{words} box"
    if key == "attach":
        return "hands free" if value == "none" else words
    return f"no {key_words(key)}" if value == "none" else f"{key_words(key)} {words}".strip()


def to_change(before: Line | None, after: Line) -> tuple[str, ...]:
    """What is set differently before a line, springs apart; the whole change of apparatus in one word."""
    if before is None:
        return ()
    if before.row.apparatus is not after.row.apparatus:
        return (f"to the {after.row.apparatus.value}",)
    have, want = before.setup, after.setup
    return tuple(
        setting_words(key, want.get(key, "none")) for key in TOLD if have.get(key, "none") != want.get(key, "none")
    )
