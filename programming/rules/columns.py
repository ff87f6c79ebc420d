"""The columns of a row and of a ladder's step: which the studio may change, and what they are called on screens."""

ROW_LABELS = {
    "exercise": "Name",
    "part": "Part",
    "apparatus": "Apparatus",
    "series": "Series",
    "position_in_series": "Place in its series",
    "order_in_apparatus": "Place in the order of the apparatus",
    "family": "Family",
    "origin": "Origin",
    "purpose": "Aims",
    "level": "Level",
    "supervision": "Supervision",
    "prerequisite_ids": "Learned before it",
    "prerequisites": "Learned before it in words",
    "springs_usual": "Usual springs",
    "springs_min": "Fewest springs",
    "springs_max": "Most springs",
    "spring_effect": "What more spring does",
    "reps_low": "Fewest repetitions",
    "reps_high": "Most repetitions",
    "reps_basis": "How repetitions count",
    "side_factor": "Counted how often",
    "tempo_seconds_per_rep": "Seconds a repetition",
    "setup_seconds": "Seconds to set up",
    "pattern": "Movement",
    "start_position": "Starts",
    "equipment_setup": "Set-up of the apparatus",
    "demands": "What it asks of a body",
    "demands_removable": "What the easier form takes out",
    "regression_adds": "What the easier form brings in",
    "stretch_joint": "Joints in a strong stretch",
    "usual_regression": "Usual easier form",
    "rep_pool": "Pool of repetitions",
    "rep_pool_total": "Repetitions in the pool",
    "rep_pool_role": "Part in the pool",
    "rep_pool_min": "Fewest in the pool",
    "note": "Note",
}
STEP_LABELS = {
    "ladder": "Ladder",
    "kind": "Kind",
    "repertoire_ids": "Exercises",
    "when_seen": "When this is seen",
    "change": "What is done or said",
    "removes": "Takes out",
    "adds": "Brings in",
    "substitutes_row": "Becomes another exercise",
}
# Where a row comes from is told by the reference; what it counts by follows from how repetitions count.
FIXED = frozenset({"apparatus", "origin"})
DERIVED = frozenset({"side_factor"})
ROW_COLUMNS = tuple(name for name in ROW_LABELS if name not in FIXED | DERIVED)
NEW_ROW_COLUMNS = (*ROW_COLUMNS, *sorted(FIXED))
STEP_COLUMNS = tuple(name for name in STEP_LABELS if name != "ladder")
NEW_STEP_COLUMNS = (*STEP_COLUMNS, "ladder")
# Of the year 1945 only what was read in its book is told; a row made here has nothing of it.
NEVER_OWN = ("rtl1945_reps", "rtl1945_count", "rtl1945_source")
BASES = {
    "total": "in all",
    "per_side": "each side",
    "per_direction": "each way",
    "per_side_per_direction": "each side, each way",
}
KINDS = {
    "setup": "set-up for a body",
    "regression": "easier form",
    "progression": "harder form",
    "embellishment": "variation, as hard",
    "fault_cue": "fault and the words for it",
    "stop": "stop sign",
}
EFFECTS = {
    "resist": "more work",
    "assist": "more help",
    "mixed": "more work and more help",
    "fix": "more stillness",
    "none": "no springs",
}
SUPERVISION = {"1": "alone once learned", "2": "teacher in sight", "3": "teacher beside, hands ready"}
ROLES = {"donor": "gives repetitions", "recipient": "takes repetitions"}
PREFIXES = {"reformer": "R", "mat": "M", "tower": "T", "chair": "C", "barrel": "B"}
