"""What calls for the form anew, in words for a list of choices (studio_default)."""

from clients.rules.asking import FULL, QUICK

# After any of these the whole form is asked before the next lesson.
EVENTS = {
    "diagnosis": "a new diagnosis",
    "operation": "an operation",
    "pregnancy": "a pregnancy",
    "birth": "a birth",
    "fall": "a fall",
    "faint": "a faint",
    "symptom": "a new symptom",
    "medicine": "a new medicine",
}
# After these the short one may do.
OTHERS = {"absence": "some weeks away", "unsure": "an answer that looks old or wrong"}
TRIGGERS = EVENTS | OTHERS
KINDS = {QUICK: "the 60-second re-check", FULL: "the whole form"}
