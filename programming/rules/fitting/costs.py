"""What a fitted plan costs, counted from the lines that are done, and the least it could cost."""

from collections.abc import Sequence

from programming.rules.fitting.candidates import Options
from programming.rules.fitting.pooled import Variant
from programming.rules.fitting.puzzle import ANSWERED, RUN
from programming.rules.fitting.result import Cost
from programming.rules.fitting.solve import Solution
from programming.rules.marks import Decision
from programming.rules.timing import changes


def cost_of(found: Sequence[Options], done: Sequence[Variant], left: int) -> Cost:
    """The cost of what is done; `left` are the deciseconds that stay empty."""
    decisions = [one.candidate.decision for one in done]
    turned = changes([one.line for one in done if one.line])
    left_out = decisions.count(Decision.LEFT_OUT)
    return Cost(
        changed=len(decisions) - decisions.count(Decision.AS_PLANNED),
        replaced=left_out + decisions.count(Decision.SWAPPED),
        left_out=left_out,
        nearness=sum(one.candidate.nearness for one in done),
        lost_aims=len(lost_aims(found, done)),
        opposition=opposition(done),
        spring_changes=turned.springs,
        set_up_changes=turned.total - turned.springs,
        empty=left,
    )


def lost_aims(found: Sequence[Options], done: Sequence[Variant]) -> tuple[str, ...]:
    """Aims of the planned rows that nothing done serves, in the order of the plan."""
    served = {aim for one in done if one.line for aim in one.line.row.purpose}
    wanted = dict.fromkeys(aim for one in found for aim in one.planned.row.purpose)
    return tuple(aim for aim in wanted if aim not in served)


def opposition(done: Sequence[Variant]) -> int:
    """What is short of V9: extension rows missing, and flexion rows beyond three running."""
    flexion = extension = running = too_many = 0
    for one in done:
        form = one.candidate.form
        if form is None:
            continue
        flexion += form.is_flexion
        extension += form.is_extension
        running = running + 1 if form.is_flexion and not form.is_extension else 0
        too_many += running > RUN
    return too_many + max(0, -(-flexion // ANSWERED) - extension)


def least_cost(found: Sequence[Options], solution: Solution, cost: Cost, room: int) -> Cost:
    """Nothing can cost less than this: the cost itself when proven, and all but its seconds when only those are not.

    Else of the goals after the first four only the time is bounded.
    """
    if solution.is_proven or not solution.is_filled:
        return cost._replace(empty=room - solution.most_seconds)
    planned, adapted, out = solution.spared
    as_planned = sum(one.stays_as_planned for one in found)
    stuck = sum(one.is_out and not one.stand_ins for one in found)
    return Cost(
        changed=len(found) - as_planned + planned,
        replaced=sum(one.is_out for one in found) + planned + adapted,
        left_out=planned + adapted + out + stuck,
        nearness=solution.near,
        empty=room - solution.most_seconds,
    )
