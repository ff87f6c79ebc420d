"""Fitting a plan stated a second time, as a model for a general constraint solver (OR-Tools CP-SAT).

Written from the definition in words, not from the fitter: it shares only the facts about rows, pools, times and
changes of set-up. Tests and benchmarks use it to judge the fitter; nothing else does.
"""

import math
from dataclasses import dataclass, field, replace

from ortools.sat.python import cp_model

from clients.rules.outcomes import Level
from programming.rules.lines import Line, PlannedLine, resolved
from programming.rules.pools import pools
from programming.rules.repertoire import EXTENSION, FLEXION, StepKind
from programming.rules.springs import DEFAULT_WEIGHTS, fitting_sets
from programming.rules.substitution import nearness
from programming.rules.timing import Pace, changes_between, line_seconds
from programming.rules.validation import machine_state_safe
from studio.rules import ApparatusKind

GOALS = ("changed", "replaced", "left_out", "nearness", "lost_aims", "opposition", "springs", "set_up", "empty")
WHOLE, BACK, BROKEN = "whole", "back", "broken"


@dataclass
class Way:
    """One way to do a line: `near` 0 for its own row, `line` None for leaving it out."""

    line: Line | None
    demands: frozenset = frozenset()
    near: int = 0
    as_planned: bool = False
    mode: str = ""
    var: object = None

    @property
    def own(self):
        return self.line is not None and not self.near


@dataclass
class Case:
    """The arguments of `fit`, as keywords."""

    lines: list
    limits: dict
    repertoire: dict
    times: object
    owned: frozenset = frozenset()
    known: object = None
    inventory: object = None
    minutes: float = 55
    pace: Pace = Pace.WORKING
    at_hand: frozenset = frozenset()
    ladders: dict = field(default_factory=dict)
    waived: frozenset = frozenset()
    ceilings: dict = field(default_factory=dict)

    def fit_arguments(self):
        return dict(vars(self))


class Model:
    """The model of one case; `optimum` solves it goal by goal, or all goals at once when they fit one number."""

    def __init__(self, case):
        self.case, self.cp = case, cp_model.CpModel()
        self.planned = resolved(case.lines, case.repertoire)
        self.here = case.at_hand or {line.row.apparatus for line in self.planned}
        self.avoid = {d for d, fact in case.limits.items() if fact.level is Level.AVOID}
        self.adapt = {d for d, fact in case.limits.items() if fact.level is Level.ADAPT}
        self.ways = self._ways()
        self._pools()
        for ways in self.ways:
            for way in ways:
                way.var = self.cp.new_bool_var("")
            self.cp.add_exactly_one(way.var for way in ways)
        self.done = [sum(way.var for way in ways if way.line) for ways in self.ways]
        self._hard()
        self.goals = [(self._named(goal, most), most) for goal, most in self._goals()]

    # What may become of each line.

    def steps(self, row):
        return self.case.ladders.get(row.id, ())

    def forms(self, row):
        yield row.demands, ""
        yield row.regressed_demands, "usual"
        for step in self.steps(row):
            removed = step.removes & row.removable
            if step.kind is StepKind.REGRESSION and not step.substitutes and removed:
                yield (row.demands - removed) | step.adds, step.code

    def offered(self, line):
        """(demands, as planned) of the forms on offer."""
        wanted = "usual" if line.plan.adapted else ""
        fit = []
        for demands, name in self.forms(line.row):
            as_done = replace(line.row, demands=demands, removable=frozenset(), regression_adds=frozenset())
            if not demands & self.avoid and not machine_state_safe([Line(line.plan, as_done)]):
                fit.append((len(demands & self.adapt), demands, name == wanted))
        if not fit:
            return []
        least = min(count for count, _, _ in fit)
        best = [(demands, is_wanted) for count, demands, is_wanted in fit if count == least]
        planned = [one for one in best if one[1]]
        return [(demands, is_wanted and not least) for demands, is_wanted in planned or best]

    def possible(self, line):
        row, case = line.row, self.case
        if row.level > case.ceilings.get(row.apparatus, 5):
            return False
        if row.apparatus is ApparatusKind.REFORMER and case.inventory is not None:
            return bool(fitting_sets(line.springs or 0, case.inventory, weights=DEFAULT_WEIGHTS))
        return True

    def blocked(self, exercise_id):
        forms = self.forms(self.case.repertoire[exercise_id])
        return all(demands & self.avoid for demands, _ in forms)

    def open_groups(self, row):
        if row.id in self.case.owned or row.id in self.case.waived:
            return []
        groups = [group for group in row.prerequisites if not set(group) & set(self.case.owned)]
        known = self.case.repertoire
        return [group for group in groups if not all(item in known and self.blocked(item) for item in group)]

    def _ways(self):
        hopeful, found = set(), []
        stuck = self._stuck_recipients()
        for line in self.planned:
            ways = []
            ready = all(hopeful & {*group, line.row.id} for group in self.open_groups(line.row))
            if line.row.id not in stuck:
                if ready and self.possible(line):
                    ways = [Way(line, demands, 0, as_planned) for demands, as_planned in self.offered(line)]
                if ways:
                    hopeful.add(line.row.id)
                else:
                    ways = self._stand_ins(line, hopeful)
            found.append([*ways, Way(None)])
        return found

    def _stand_ins(self, line, hopeful):
        planned_ids = {one.row.id for one in self.planned}
        planned_pools = {one.row.rep_pool for one in self.planned} - {""}
        named = {
            step.substitutes for step in self.steps(line.row) if step.kind is StepKind.REGRESSION and step.substitutes
        }
        ways = []
        for row in self.case.repertoire.values():
            near = nearness(line.row, row)
            if row.id in named and row.level <= line.row.level:
                near = 1
            stands = Line(PlannedLine(line.planned_id, row.id), row)
            if near is None or row.id in planned_ids or row.rep_pool in planned_pools:
                continue
            if row.apparatus not in self.here or not self.possible(stands):
                continue
            if all(hopeful & {*group, row.id} for group in self.open_groups(row)):
                ways += [Way(stands, demands, int(near)) for demands, _ in self.offered(stands)]
        return ways

    # Pools: each way of a part is split by how its pool goes.

    def _shared(self):
        ids = [line.row.id for line in self.planned]
        for pool in pools(self.case.repertoire).values():
            if all(ids.count(row.id) == 1 for row in (*pool.donors, pool.recipient)):
                yield pool, [ids.index(row.id) for row in pool.donors], ids.index(pool.recipient.id)

    def _whole_counts(self, pool, donors, recipient):
        """Counts when whole: None when no count of the recipient keeps the donors' minimums."""
        if any(self.planned[at].plan.reps is not None for at in donors):
            return {}
        wanted = self.planned[recipient].plan.reps
        wanted = pool.usual_recipient if wanted is None else wanted
        for count in range(wanted, 0, -1):
            if pool.holds(pool.shares(count), count):
                return {**pool.shares(count), pool.recipient.id: count}
        return None

    def _stuck_recipients(self):
        return {pool.recipient.id for pool, *at in self._shared() if self._whole_counts(pool, *at) is None}

    def _pools(self):
        self.modes = []
        for pool, donors, recipient in self._shared():
            mode = {name: self.cp.new_bool_var("") for name in (WHOLE, BACK, BROKEN)}
            self.cp.add_exactly_one(mode.values())
            counts = {WHOLE: self._whole_counts(pool, donors, recipient) or {}, BACK: pool.shares(0), BROKEN: {}}
            for at in (*donors, recipient):
                self.ways[at] = [
                    replace(way, mode=name, line=self._counted(way, counts[name]))
                    for way in self.ways[at]
                    for name in mode
                ]
            self.modes.append((mode, donors, recipient))

    @staticmethod
    def _counted(way, counts):
        if not way.own or way.line.row.id not in counts:
            return way.line
        return replace(way.line, plan=replace(way.line.plan, reps=counts[way.line.row.id]))

    # What must hold.

    def _hard(self):
        for mode, donors, recipient in self.modes:
            own = {at: sum(way.var for way in self.ways[at] if way.own) for at in (*donors, recipient)}
            for at in own:
                for way in self.ways[at]:
                    self.cp.add_implication(way.var, mode[way.mode])
            for at in donors:
                self.cp.add(own[at] == 1).only_enforce_if(mode[BROKEN].negated())
            self.cp.add(sum(own[at] for at in donors) < len(donors)).only_enforce_if(mode[BROKEN])
            self.cp.add(own[recipient] == 1).only_enforce_if(mode[WHOLE])
            self.cp.add(own[recipient] == 0).only_enforce_if(mode[BACK])
        used = {}
        for at, ways in enumerate(self.ways):
            for way in ways:
                if way.near:
                    used.setdefault(way.line.row.rep_pool or way.line.row.id, []).append(way.var)
                if way.line:
                    self._prerequisites(at, way)
        for vars_ in used.values():
            self.cp.add_at_most_one(vars_)
        self.seconds = sum(self._deciseconds(way.line) * way.var for ways in self.ways for way in ways if way.line)
        times = self.case.times
        self.room = max(
            0, int(self.case.minutes * 600 * times.warn_share + 1e-6) - round(10 * (times.arrival + times.close))
        )
        self.cp.add(self.seconds <= self.room)

    def _prerequisites(self, at, way):
        for group in self.open_groups(way.line.row):
            earlier = [
                other.var
                for ways in self.ways[:at]
                for other in ways
                if other.own and other.line.row.id in (*group, way.line.row.id)
            ]
            self.cp.add(way.var <= sum(earlier))

    def _deciseconds(self, line):
        new = self.case.known is not None and line.row.id not in self.case.known
        return math.ceil(line_seconds(line, self.case.times, pace=self.case.pace, new=new) * 10 - 1e-6)

    # What is asked for, in its order.

    def _goals(self):
        count = len(self.planned)
        every = [way for ways in self.ways for way in ways]
        springs, set_up = self._changes()
        return [
            (count - sum(way.var for way in every if way.as_planned), count),
            (count - sum(way.var for way in every if way.own), count),
            (sum(way.var for way in every if way.line is None), count),
            (sum(way.near * way.var for way in every), 3 * count),
            self._lost(),
            self._opposition(),
            (springs, count),
            (set_up, 5 * count),
            (self.room - self.seconds, self.room),
        ]

    def _lost(self):
        lost = []
        for aim in {aim for line in self.planned for aim in line.row.purpose}:
            gone = self.cp.new_bool_var("")
            serving = [way.var for ways in self.ways for way in ways if way.line and aim in way.line.row.purpose]
            self.cp.add(gone + sum(serving) >= 1)
            lost.append(gone)
        return sum(lost), len(lost)

    def _opposition(self):
        count = len(self.planned)
        flexion = sum(way.var for ways in self.ways for way in ways if way.demands & FLEXION)
        extension = sum(way.var for ways in self.ways for way in ways if way.demands & EXTENSION)
        short = self.cp.new_int_var(0, count, "")
        self.cp.add(4 * short >= flexion - 4 * extension)
        before, too_many = 0, []
        for ways in self.ways:
            run, over = self.cp.new_int_var(0, count, ""), self.cp.new_bool_var("")
            for way in ways:
                rounding = bool(way.demands & FLEXION) and not way.demands & EXTENSION
                if way.line is None:
                    self.cp.add(run == before).only_enforce_if(way.var)
                elif rounding:
                    self.cp.add(run == before + 1).only_enforce_if(way.var)
                    self.cp.add(run <= 3).only_enforce_if(way.var, over.negated())
                else:
                    self.cp.add(run == 0).only_enforce_if(way.var)
            before = run
            too_many.append(over)
        return short + sum(too_many), 2 * count

    def _changes(self):
        springs, set_up = [], []
        for at, ways in enumerate(self.ways):
            between = []
            for then in range(at + 1, len(self.ways)):
                for way in ways:
                    for other in self.ways[then]:
                        if way.line and other.line:
                            self._pair(at, way, then, other, between, springs, set_up)
                if all(way.line for way in self.ways[then]):
                    break
                between.append(self.done[then])
        return sum(springs), sum(set_up)

    def _pair(self, at, way, then, other, between, springs, set_up):
        neighbours = way.own and other.own and then == at + 1
        before, after = way.line, other.line
        if before.same_exercise(after) and not neighbours:
            rises = (after.springs or 0) > (before.springs or 0)
            if rises or after.row.position_in_series <= before.row.position_in_series:
                self.cp.add(way.var + other.var <= 1 + sum(between))
                return
        found = changes_between(before, after)
        if not found.total:
            return
        follows = self.cp.new_bool_var("")
        self.cp.add(follows >= way.var + other.var - 1 - sum(between))
        springs.append(found.springs * follows)
        set_up.append((found.total - found.springs) * follows)

    def _named(self, goal, most):
        """The goal as a variable of its own: sums may not be added to without changing."""
        value = self.cp.new_int_var(0, most, "")
        self.cp.add(value == goal)
        return value

    # Solving.

    def optimum(self, seconds=60.0):
        """The least of each goal in its order, or None where the solver gave up."""
        values, group, size = [], [], 1
        for goal, most in [*self.goals, (None, 2**62)]:
            if goal is None or size * (most + 1) > 2**40:
                found = self._solve(group, seconds)
                if found is None:
                    return None
                values += found
                group, size = [], 1
            if goal is not None:
                group.append((goal, most))
                size *= most + 1
        return tuple(values)

    def _solve(self, group, seconds):
        weights = [1]
        for _, most in reversed(group[1:]):
            weights.append(weights[-1] * (most + 1))
        self.cp.minimize(cp_model.LinearExpr.weighted_sum([goal for goal, _ in group], weights[::-1]))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = seconds
        if solver.solve(self.cp) != cp_model.OPTIMAL:
            return None
        values = [solver.value(goal) for goal, _ in group]
        for (goal, _), value in zip(group, values, strict=True):
            self.cp.add(goal == value)
        return values


def optimum(case, seconds=60.0):
    """The cost of the best program for a case, goal by goal."""
    return Model(case).optimum(seconds)
