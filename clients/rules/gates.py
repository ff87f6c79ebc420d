"""The gates that come before the clearance table: red flags, today's state, pressure and pulse, pregnancy."""

import operator
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date

from clients.rules.adjusting import DEFAULT_REGIME, LINES, REGIME, Choices
from clients.rules.facts import Pregnancy, Pressure, Readings, ScreeningFacts, Today
from clients.rules.outcomes import Outcome
from clients.rules.reasons import ReasonKind, ScreenReason, missing, reason
from clients.rules.reference import BpGate, Condition, FlagRoute, PregnancyGate, RedFlag, Rulebook

CAUDA_EQUINA = "cauda_equina"
OPERATORS: dict[str, Callable[[int, int], bool]] = {"ge": operator.ge, "gt": operator.gt, "lt": operator.lt}
GATE_OUTCOMES = {
    "postpone": Outcome.POSTPONE,
    "refer": Outcome.REFER,
    "advise": Outcome.CLEAR_LIMITED,
    "emergency": Outcome.EMERGENCY,
}
# Chest pain and breathlessness among the nine signs: what makes a very high pressure an emergency.
SIGNS_WITH_PRESSURE = frozenset({"S1", "S2", "S4"})
PULSE_GATE, ILLNESS_GATE, REPEAT_GATE = "G12", "G13", "G05"
TODAY_GATES = {Today.FEVER: ILLNESS_GATE, Today.ILL: ILLNESS_GATE, Today.IRREGULAR_PULSE: PULSE_GATE}
ON_THE_REPEAT = frozenset({"still so on the repeat reading", "confirmed"})
NEEDS_A_READING = "C15"
NOTHING_MEASURED = Readings()


def red_flag_reasons(facts: ScreeningFacts, rulebook: Rulebook, *, on: date) -> Iterator[ScreenReason]:
    """Each red flag that counts. What a flag needs besides counts as there when it is not known to be missing."""
    for told in facts.flags:
        flag = rulebook.red_flags[told.flag_id]
        is_met = told.needs_met is not False
        if not is_met and flag.flag_group != CAUDA_EQUINA:
            continue
        outcome = flag_outcome(flag, is_met=is_met, is_today=on <= facts.written_on)
        yield reason(
            flag.id,
            ReasonKind.RED_FLAG,
            outcome,
            says=_flag_says(flag, outcome),
            sources=flag.source_ids if is_met else (*flag.source_ids, "studio_default"),
            rulebook=rulebook,
        )


def flag_outcome(flag: RedFlag, *, is_met: bool, is_today: bool) -> Outcome:
    """Where a flag told with yes leads; a sign told on an earlier day still waits for a doctor's answer."""
    if not is_met:
        return Outcome.REFER
    if flag.route in (FlagRoute.EMERGENCY, FlagRoute.EYE_EMERGENCY):
        return Outcome.EMERGENCY
    if flag.route is FlagRoute.SAME_DAY and is_today:
        return Outcome.POSTPONE
    return Outcome.REFER


def _flag_says(flag: RedFlag, outcome: Outcome) -> str:
    if outcome is Outcome.REFER and flag.route is not FlagRoute.DOCTOR_BEFORE_RETURN:
        return "A sign that a doctor should look at before the next lesson; the doctor's answer is stored first."
    return f"A sign that someone should look at: {flag.action}."


def today_reasons(
    facts: ScreeningFacts,
    rulebook: Rulebook,
    *,
    on: date,
    stated: Rulebook,
    choices: Choices,
    condition_ids: frozenset[str],
) -> Iterator[ScreenReason]:
    """Today's state: what was told of this day, then pressure and pulse.

    `rulebook` holds the lines as the owner moved them, `stated` as the tables state them.
    """
    yield from _told_today(facts, rulebook, on)
    found = list(_reading_reasons(facts, rulebook, stated, choices))
    is_waiting = any(one.outcome in (Outcome.POSTPONE, Outcome.EMERGENCY) for one in found)
    if not is_waiting and (gate_ids := _waiting_for_repeat(facts.readings, rulebook)):
        says = "A first pressure this high is measured again after 5 minutes."
        was_met = _waiting_for_repeat(facts.readings, stated)
        point = "" if was_met else _moved_line(rulebook, stated, gate_ids[0])
        found.append(missing(REPEAT_GATE, says=says, rulebook=rulebook, chosen=point))
    yield from _with_regime(found, facts, stated, choices)
    if NEEDS_A_READING in condition_ids:
        if not facts.readings.pressures:
            yield missing("pressure", says="Blood pressure was not taken, and is needed here.", rulebook=rulebook)
        if facts.readings.heart_rate is None:
            yield missing("heart_rate", says="Resting heart rate was not taken, and is needed here.", rulebook=rulebook)


def _told_today(facts: ScreeningFacts, rulebook: Rulebook, on: date) -> Iterator[ScreenReason]:
    is_today = on <= facts.written_on
    for told in sorted(facts.today):
        if told is Today.WHEEZING:
            asthma = rulebook.conditions["C55"]
            rule_id, says, sources = asthma.id, "Wheezing today: the lesson waits.", asthma.source_ids
        else:
            gate = rulebook.bp_gates[TODAY_GATES[told]]
            rule_id, says, sources = gate.id, f"{gate.extra_condition}: {gate.action}.", gate.source_ids
        if is_today:
            outcome = Outcome.POSTPONE
        elif told is Today.IRREGULAR_PULSE:
            outcome, says = Outcome.REFER, "An irregular pulse was new: a doctor's answer comes first."
        else:
            continue
        yield reason(rule_id, ReasonKind.TODAY, outcome, says=says, sources=sources, rulebook=rulebook)


def counted_pressure(readings: Readings) -> Pressure | None:
    """The pair that counts: of the last two the one with the lower systolic, at a tie with the higher diastolic.

    Without a measured pair, the one the client told; None without either. Source: nice_ng136, the pair from memory.
    """
    if not readings.pressures:
        return readings.told
    return min(readings.pressures[-2:], key=lambda pair: (pair.systolic, -pair.diastolic))


def _waiting_for_repeat(readings: Readings, rulebook: Rulebook) -> list[str]:
    """The gates that count only on the repeat and whose line a first pair meets, while there is no repeat."""
    pair = counted_pressure(readings)
    if pair is None or len(readings.pressures) >= 2:
        return []
    gates = rulebook.bp_gates.values()
    return [gate.id for gate in gates if gate.extra_condition in ON_THE_REPEAT and _is_past_line(gate, pair)]


def _reading_reasons(
    facts: ScreeningFacts, rulebook: Rulebook, stated: Rulebook, choices: Choices
) -> Iterator[ScreenReason]:
    if facts.readings == NOTHING_MEASURED:
        return
    pair = counted_pressure(facts.readings)
    for gate in rulebook.bp_gates.values():
        is_asked = gate.population == "adult" or facts.pregnancy is not None
        if is_asked and gate.regime in ("all", choices.regime) and _is_met(gate, facts, pair):
            was_met = gate is stated.bp_gates[gate.id] or _is_met(stated.bp_gates[gate.id], facts, pair)
            yield reason(
                gate.id,
                ReasonKind.TODAY if gate.population == "adult" else ReasonKind.PREGNANCY,
                GATE_OUTCOMES[gate.outcome],
                says=f"Reading at rest: {gate.action}.",
                sources=gate.source_ids,
                rulebook=rulebook,
                chosen="" if was_met else _moved_line(rulebook, stated, gate.id),
            )


def _moved_line(rulebook: Rulebook, stated: Rulebook, gate_id: str) -> str:
    """The point of the first line of the gate that the owner moved; empty when none is."""
    gate, was = rulebook.bp_gates[gate_id], stated.bp_gates[gate_id]
    moved = [name for name, (column, *_) in LINES.items() if getattr(gate, column) != getattr(was, column)]
    return f"{gate_id}.{moved[0]}" if moved else ""


def _with_regime(
    found: list[ScreenReason], facts: ScreeningFacts, stated: Rulebook, choices: Choices
) -> Iterator[ScreenReason]:
    """Where the default lines would have spoken and the chosen ones did not, all that was read bears the choice."""
    if not found:
        return
    gates = stated.bp_gates
    spoke = {one.rule_id for one in found}
    chosen = {gate_id for gate_id in spoke if gate_id in gates and gates[gate_id].regime not in ("all", DEFAULT_REGIME)}
    pair = counted_pressure(facts.readings)
    is_waived = choices.regime != DEFAULT_REGIME and any(
        gate.regime == DEFAULT_REGIME and _is_met(gate, facts, pair) for gate in gates.values()
    )
    for one in found:
        is_touched = one.rule_id in chosen or (is_waived and not chosen)
        yield replace(one, chosen=REGIME) if is_touched else one


def _is_met(gate: BpGate, facts: ScreeningFacts, pair: Pressure | None) -> bool:
    readings = facts.readings
    if gate.sbp_op == "drop_ge":
        drop = readings.standing_drop
        return readings.faint_with_low_pressure or (drop is not None and gate.sbp is not None and drop >= gate.sbp)
    is_past = (pair is not None and _is_past_line(gate, pair)) or _is_past_pulse(gate, readings.heart_rate)
    return is_past and _has_extra(gate.extra_condition, facts)


def _is_past_line(gate: BpGate, pair: Pressure) -> bool:
    return _past(gate.sbp_op, pair.systolic, gate.sbp) or _past(gate.dbp_op, pair.diastolic, gate.dbp)


def _is_past_pulse(gate: BpGate, heart_rate: int | None) -> bool:
    return heart_rate is not None and _past(gate.hr_op, heart_rate, gate.hr)


def _past(op: str, value: int, line: int | None) -> bool:
    return line is not None and op in OPERATORS and OPERATORS[op](value, line)


def _has_extra(extra: str, facts: ScreeningFacts) -> bool:
    """Whether what a gate asks besides its line is there; a text without a rule of its own counts as there."""
    symptoms = facts.symptoms or frozenset()
    if extra in ON_THE_REPEAT:
        return len(facts.readings.pressures) >= 2
    if extra == "untreated":
        return facts.readings.is_treated is not True
    if extra == "with symptoms":
        return bool(symptoms)
    if extra == "with confusion, chest pain, breathlessness or change of sight":
        return facts.readings.has_signs is True or bool(symptoms & SIGNS_WITH_PRESSURE)
    return True


def pregnancy_reasons(facts: ScreeningFacts, rulebook: Rulebook, *, on: date) -> Iterator[ScreenReason]:
    """The gates of a pregnancy; one with a first day of gestation also counts while no due date is known."""
    pregnancy = facts.pregnancy
    if pregnancy is None:
        return
    if pregnancy.due_on is None:
        yield missing("H13.due", says="The due date is not known yet.", rulebook=rulebook)
    for gate_id in sorted(pregnancy.gate_ids):
        gate = rulebook.pregnancy_gates[gate_id]
        if gate.is_on and _has_begun(gate, pregnancy, on):
            is_now = gate.outcome == "stop" and on <= facts.written_on
            yield reason(
                gate.id,
                ReasonKind.PREGNANCY,
                Outcome.POSTPONE if is_now else Outcome.REFER,
                says=f"{gate.statement}: {gate.action}.",
                sources=gate.source_ids,
                rulebook=rulebook,
            )


def _has_begun(gate: PregnancyGate, pregnancy: Pregnancy, on: date) -> bool:
    gestation = pregnancy.gestation(on)
    return gate.from_gestation_day is None or gestation is None or gestation >= gate.from_gestation_day


def pregnancy_condition(pregnancy: Pregnancy, rulebook: Rulebook, *, on: date) -> Condition:
    """The stage that holds on the day; the last and strictest while no due date is known."""
    stages = rulebook.stages
    gestation = pregnancy.gestation(on)
    if gestation is None:
        return stages[-1]
    begun = [row for row in stages if (row.window_days_from or 0) <= gestation]
    return begun[-1] if begun else stages[0]
