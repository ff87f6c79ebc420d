"""What the owner chose at the points the rules leave open, as the rules read it."""

from clients import models
from clients.rules import adjusting


def choices() -> adjusting.Choices:
    """The owner's choices in force; the defaults where none was made. One query."""
    open_now = models.RuleChoice.objects.filter(ended_at=None).values_list("point", "value")
    return adjusting.chosen_from(dict(open_now))
