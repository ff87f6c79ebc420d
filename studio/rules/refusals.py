"""A refused action says which rule refused, in words for people, and what would be allowed."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Reason:
    """One rule that said no.

    `code` is stable and for programs, `says` is for people, `field` names the input it belongs to (empty when it
    belongs to none), `allowed` says in words what would be accepted.
    """

    code: str
    says: str
    field: str = ""
    allowed: str = ""


class Refused(Exception):
    """An expected failure of an action; carries at least one `Reason`."""

    def __init__(self, reasons: "Reason | list[Reason] | tuple[Reason, ...]") -> None:
        self.reasons: tuple[Reason, ...] = (reasons,) if isinstance(reasons, Reason) else tuple(reasons)
        if not self.reasons:
            raise ValueError("a refusal needs a reason")
        super().__init__("; ".join(reason.says for reason in self.reasons))
