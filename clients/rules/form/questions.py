"""What the form asks beyond the tables: which conditions a question can reveal, and their follow-up questions.

Each condition is offered where a person would tell of it, some in two places. Of conditions that follow one another in
time only the first is offered; the day it counts from decides which row holds. The stages of pregnancy come from the
due date, and high blood pressure from whether it is under control.
"""

from clients.rules.form.fields import NONE, OTHER, Choice

TITLES = {
    "usual_week": "Your ordinary week",
    "heart_and_vessels": "Heart and circulation",
    "sugar_and_kidneys": "Sugar and kidneys",
    "effort_signs": "Nine signs",
    "pressure": "Blood pressure",
    "breath": "Breath",
    "back_and_neck": "Back and neck",
    "joints": "Joints",
    "bones": "Bones",
    "operations": "Operations",
    "eyes_head_balance": "Eyes, head and balance",
    "nerves_and_immune": "Nerves, joints and immunity",
    "pregnancy_and_birth": "Pregnancy and birth",
    "belly_and_floor": "Belly and pelvic floor",
    "medicines": "Medicines",
    "told_to_avoid": "What you were told",
    "today": "Today",
    "what_you_want": "What you want",
}

# Where the question itself cannot be answered with yes or no, what the two buttons ask.
YES_NO_LABELS = {
    "H07": "Does anything hurt or trouble you in the back or the neck?",
    "H08": "Does any joint complain, or has one been injured or replaced?",
    "H10": "Have you had an operation?",
}

# Asked back in plain words when a number or a day cannot be.
BEYOND = {
    "H13.due": "A baby due on {told} cannot be on its way today. On which day is it due?",
    "H13.weeks": "A pregnancy does not last {told} weeks. How many whole weeks is it today?",
}

REVEALS: dict[str, tuple[str, ...]] = {
    "H02": ("C54", "C58", "C52"),
    "H03": ("C56", "C57"),
    "H06": ("C55",),
    "H07": ("C61", "C05", "C07", "C08", "C09", "C10", "C11", "C13"),
    "H08": ("C29", "C26", "C28", "C41", "C30", "C31", "C32", "C33", "C34", "C35", "C36", "C37", "C38", "C39"),
    "H09": ("C01", "C02", "C03"),
    "H10": ("C12", "C23", "C26", "C28", "C30", "C50", "C52", "C54", "C17"),
    "H11": ("C16", "C17", "C60", "C44", "C45", "C47"),
    "H12": ("C40", "C42", "C43", "C48", "C49", "C50", "C51"),
    "H14": ("C18", "C24", "C25", "C59"),
}
NONE_OF_THESE = Choice(OTHER, "Something else, or none of these")
HIP_UNSURE = Choice("hip_unsure", "Hip replacement, not sure from which side it was reached")
OTHER_CHOICES: dict[str, tuple[Choice, ...]] = {
    "H02": (Choice("heart_other", "Something else with the heart or the circulation"),),
    "H03": (Choice("kidney", "A kidney illness"), Choice("sugar_other", "Something else with sugar")),
    "H08": (HIP_UNSURE, NONE_OF_THESE),
    "H10": (HIP_UNSURE, NONE_OF_THESE),
}
# Not knowing which of two it is, both apply.
EITHER = {"hip_unsure": ("C26", "C28")}

LABELS = {
    "C03": "Vertebral fracture, recent or healed",
    "C05": "Lumbar disc herniation or nerve-root pain, now or in the past",
    "C12": "Spinal fusion or other spine surgery, recent or long ago",
    "C17": "Retinal tear or detachment, eye surgery, or severe retinopathy",
    "C23": "Caesarean, or an operation on the belly",
    "C26": "Hip replacement, posterior approach (from behind)",
    "C28": "Hip replacement, anterior approach (from the front)",
    "C30": "Knee replacement",
    "C31": "Meniscus tear or cruciate ligament injury or repair, not yet released",
    "C33": "Ankle sprain",
    "C45": "Epilepsy, or a seizure",
    "C50": "Breast cancer surgery",
    "C52": "Pacemaker or defibrillator",
    "C54": "Heart attack, heart surgery or an opened breastbone",
    "C51": "Lymphoedema, or told that you are at risk of it",
}

# A box for own words beside what is chosen from a list.
WORDS_BESIDE = {
    "H13": "Anything about it that you would like us to know",
    "H17": "About today, in your own words",
}
# What own words are asked for where the list leaves something open.
OWN_WORDS = {
    "H08": "Which joint and side, if it is not in the list, and anything else in your own words",
    "H10": "Every operation with its year, and anything else in your own words",
}

SINCE_LABELS = {
    "C03": "When did it break?",
    "C05": "When did it begin?",
    "C17": "When was the operation, or when was it found?",
    "C33": "When did you twist it?",
    "C45": "When was the last seizure?",
    "C54": "When was it?",
}

# A yes or a not sure keeps the earlier, stricter row whatever the date.
STILL = {
    "C03": "Does it still hurt?",
    "C05": "Do pain, numbness or weakness still reach the leg?",
    "C17": "Is your eye doctor's release still to come?",
}

CLEARANCE_QUESTIONS = {
    "C01": "Have you broken a bone since, or is your upper back strongly rounded?",
    "C05": "Is a leg weak or numb, or is it getting worse?",
    "C07": "Has the distance you can walk become shorter, or are your legs getting weaker?",
    "C08": "Do your complaints change or grow from week to week?",
    "C10": "Did the pain come suddenly, or is it severe?",
    "C11": "Is the curve growing, are you still growing, or is there numbness or weakness?",
    "C13": (
        "Any of these: weakness or numbness in an arm, an injury to the neck, dizziness, double vision, "
        "trouble speaking or swallowing?"
    ),
    "C16": "Is it advanced or unstable, or was an eye operated on lately?",
    "C18": "New trouble swallowing, vomiting blood, or losing weight?",
    "C22": "Did you have tears or heavier bleeding, or were you told to wait for any other reason?",
    "C25": "Is there a bulge at or beyond the opening, or was there an operation in the last 12 weeks?",
    "C31": "Was it operated on in the last 12 weeks, or does the knee lock or give way?",
    "C33": "Could you not take four steps on it?",
    "C35": "Was the shoulder repaired in the last 12 weeks?",
    "C37": "Did it come out in the last 12 weeks, or was it operated on?",
    "C38": "Is the numbness there all the time, or is the thumb getting thinner or weaker?",
    "C40": "Is it the vascular type, or has a joint come out lately?",
    "C42": "New neck pain, clumsy hands, or a feeling like an electric shock?",
    "C44": "Has no one examined it yet, or are there hearing loss, a new headache or double vision?",
    "C48": "Is there a relapse now, or has no specialist looked at what exercise suits you?",
    "C50": "Is there swelling that is new or changing?",
    "C51": "Is there swelling that is new or changing?",
    "C60": "Have you fainted in the last 12 months?",
}

WHERE = (
    Choice("lower_back", "Lower back"),
    Choice("upper_back", "Upper or middle back"),
    Choice("neck", "Neck"),
    Choice("leg", "It travels into a leg"),
    Choice("arm", "It travels into an arm"),
)
SPINE = frozenset({"lower_back", "upper_back", "neck"})
BACK_OR_LEG = frozenset({"lower_back", "upper_back", "leg"})

EMERGENCY_FLAGS = ("F20", "F21", "F19", "F18", "F22")
BACK_FLAGS = ("F01", "F02", "F03", "F04")
SPINE_FLAGS = ("F08", "F09", "F10", "F15", "F16")
BACK_PAIN_FLAGS = ("F23", "F24")
NECK_FLAGS = ("F06",)
PAIN_FLAGS = ("F07", "F11", "F13", "F14")
ALWAYS_FLAGS = ("F05", "F17", "F12")
WHEN_OF_BACK_FLAG = (
    Choice("no", "No"),
    Choice("new", "Yes, new in the last 14 days or getting worse"),
    Choice("old", "Yes, for longer, and steady"),
)
IF_NOT_SURE = "If you are not sure, answer yes: it is better to ask once too often."
OLDEST_WITHOUT_F10 = 64

TERMS: dict[str, tuple[str, tuple[str, ...]]] = {
    "bend_forward": ("Bending or rounding forward", ("flex_loaded", "flex_end")),
    "bend_back": ("Bending backward", ("ext_loaded", "ext_end")),
    "turn": ("Turning the trunk", ("rotation", "rot_flex")),
    "bend_side": ("Bending sideways", ("sidebend",)),
    "head_down": ("Head low or hips high", ("inversion", "hips_high")),
    "neck": ("Holding up the head, or weight on the neck", ("neck_hold", "neck_weight")),
    "long_legs": ("Lifting straight legs, planks", ("long_lever",)),
    "strain": ("Heavy effort, holding the breath", ("straining",)),
    "hip_bend": ("Bending the hip deeply", ("hip_flex_90",)),
    "hip_cross": ("Crossing the legs or turning the hip in", ("hip_add_mid",)),
    "hip_back": ("Taking the leg behind you", ("hip_ext",)),
    "hip_wide": ("Legs wide apart", ("hip_abd_wide",)),
    "stretch": ("Stretching to the end", ("hamstring_end", "stretch_end")),
    "knee_deep": ("Bending the knee deeply", ("knee_flex_deep",)),
    "kneel": ("Kneeling", ("kneel",)),
    "hands": ("Weight on the hands or wrists", ("wrist_wb", "shoulder_wb")),
    "arm_high": ("Arms above the shoulders", ("shoulder_overhead",)),
    "arm_back": ("Arms behind the body", ("shoulder_ext_end",)),
    "grip": ("Gripping, pulling with the hands", ("grip",)),
    "lie_back": ("Lying flat on the back", ("supine_flat",)),
    "lie_front": ("Lying on the front", ("prone",)),
    "balance": ("Standing on narrow or moving things", ("balance",)),
    "roll": ("Rolling and rocking", ("rolling",)),
    "jump": ("Jumping", ("impact",)),
    "twist_foot": ("Turning over a planted foot", ("pivot",)),
    "toes": ("Weight on the toes", ("forefoot",)),
    "quick": ("Getting up or turning over quickly", ("posture_change",)),
}
TERM_CHOICES = (
    *(Choice(term, label) for term, (label, _) in TERMS.items()),
    Choice(OTHER, "Something that is not in this list"),
)
NOTHING_LEFT_OUT = Choice(NONE, "Nothing", is_alone=True)

TODAY = (
    Choice(NONE, "Nothing, today is an ordinary day", is_alone=True),
    Choice("fever", "Fever"),
    Choice("ill", "A cold or another passing illness"),
    Choice("irregular_pulse", "A pulse that has newly become irregular"),
    Choice("wheezing", "Wheezing"),
    Choice("bad_night", "A bad night"),
    Choice("something_new", "Something else that is new"),
)
# The placenta is asked about once; both lists' lines then count, each from its own week.
SAME_STATEMENT = {"P13": ("P04",)}
PLACENTA_LABEL = "The placenta lies low over the way out"
