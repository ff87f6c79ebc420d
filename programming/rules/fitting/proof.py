"""A fit that is not proven best, told in plain words with its bound."""

from programming.rules.fitting.result import Cost

LINE_GOALS = (
    ("changed", "changed"),
    ("replaced", "swapped or left out"),
    ("left_out", "left out"),
)
OPENS = "The best fit is not proven: "


def unproven_words(cost: Cost, bound: Cost) -> str:
    """What is known of a fit that cost so much where every fit costs at least `bound`; empty when the two agree.

    The first goal that they part in is told, as the ones after it weigh less.
    """
    if bound == cost:
        return ""
    for name, words in LINE_GOALS:
        here, least = getattr(cost, name), getattr(bound, name)
        if least < here:
            return f"{OPENS}this one had {_lines(here)} {words}; every fit has at least {least}."
    if bound._replace(empty=cost.empty) == cost:
        seconds = (cost.empty - bound.empty) / 10
        return (
            f"{OPENS}the lesson changes as little as any, but up to {seconds:.0f} more seconds of it might be filled."
        )
    return (
        f"{OPENS}no fit keeps more lines, but one with nearer stand-ins, fewer changes of springs and set-up, "
        "or less empty time may exist."
    )


def _lines(count: int) -> str:
    return f"{count} line" if count == 1 else f"{count} lines"
