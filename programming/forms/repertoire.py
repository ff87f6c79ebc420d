"""Shapes of the repertoire: looking through it, changing a row or a step, and deciding what was proposed."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms

from programming.rules import columns
from programming.rules.entries import LONGEST
from programming.rules.reference.faults import split
from programming.rules.search import LONGEST as LONGEST_SEARCH
from programming.rules.search import Asking, Wanted
from studio.doors.fields import ReasonedForm
from studio.rules import ApparatusKind, Reason

Pairs = Iterable[tuple[str, str]]
LEVELS = [("", "any")] + [(str(n), f"{n}") for n in range(1, 6)] + [(f"to{n}", f"up to {n}") for n in range(2, 5)]
ASKING = [("asks", "ask for it"), ("always", "ask for it in the easier form too"), ("never", "do not ask for it")]


class SearchForm(forms.Form):
    """What is looked for; a choice that is none counts as any."""

    q = forms.CharField(required=False, max_length=LONGEST_SEARCH, label="Words", strip=True)
    kind = forms.ChoiceField(required=False, label="Apparatus")
    series = forms.ChoiceField(required=False, label="Series")
    aim = forms.ChoiceField(required=False, label="Aim")
    level = forms.ChoiceField(required=False, label="Level", choices=LEVELS)
    position = forms.ChoiceField(required=False, label="Starts")
    demand = forms.ChoiceField(required=False, label="Demand on the body")
    asking = forms.ChoiceField(required=False, label="Those that", choices=ASKING)

    def __init__(
        self,
        data: Mapping[str, Any],
        *,
        series: Sequence[tuple[str, Sequence[str]]],
        aims: Pairs,
        positions: Iterable[str],
        demands: Pairs,
    ) -> None:
        super().__init__(data)
        self._choose("kind", [(kind.value, kind.value) for kind in ApparatusKind])
        self._choose("series", [(kind, [(name, name) for name in names]) for kind, names in series])
        self._choose("aim", aims)
        self._choose("position", [(one, one) for one in positions])
        self._choose("demand", demands)
        self.fields["q"].widget = forms.TextInput(attrs={"type": "search", "maxlength": LONGEST_SEARCH})

    def _choose(self, name: str, choices: Iterable[Any]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "any"), *choices]

    def wanted(self) -> Wanted:
        self.is_valid()
        told = {name: value for name, value in self.cleaned_data.items() if value}
        level = told.get("level", "")
        return Wanted(
            words=told.get("q", ""),
            apparatus=told.get("kind", ""),
            series=told.get("series", ""),
            aim=told.get("aim", ""),
            level=int(level.removeprefix("to") or 0),
            up_to=level.startswith("to"),
            demand=told.get("demand", ""),
            asking=Asking(told.get("asking", "asks")),
            position=told.get("position", ""),
        )


class EntryForm(ReasonedForm):
    """What a row and a step have in common: why it is changed, and the version that was on the screen."""

    why = forms.CharField(max_length=LONGEST, label="What it is for", required=False,
                          help_text="Stands beside this version from now on.")  # fmt: skip
    base = forms.IntegerField(required=False, min_value=0, max_value=32767, widget=forms.HiddenInput)

    def add_reasons(self, reasons: tuple[Reason, ...]) -> None:
        """As everywhere, and with what would be accepted: a column's words are not known by heart."""
        told = [Reason(one.code, f"{one.says} {one.allowed}".strip(), self.field_of(one.field)) for one in reasons]
        super().add_reasons(tuple(told))

    def field_of(self, column: str) -> str:
        return column

    def columns(self) -> dict[str, str]:
        raise LookupError("each form tells its columns")


def number(label: str, *, step: str = "", required: bool = True, **options: Any) -> forms.CharField:
    attrs = {"step": step} if step else {}
    return forms.CharField(
        max_length=6, label=label, required=required, widget=forms.NumberInput(attrs=attrs), **options
    )


def words(label: str, *, rows: int = 2, required: bool = False, **options: Any) -> forms.CharField:
    return forms.CharField(
        max_length=LONGEST, label=label, required=required, widget=forms.Textarea(attrs={"rows": rows}), **options
    )


def choice(label: str, choices: Mapping[str, str], **options: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=list(choices.items()), **options)


STATES = [
    ("", "no"),
    ("asks", "yes"),
    ("removable", "yes; the easier form takes it out"),
    ("brings", "no; the easier form brings it in"),
]
LABELS = columns.ROW_LABELS


class RowForm(EntryForm):
    """A row of the repertoire, whole. The rules have the last word on all of it."""

    exercise = forms.CharField(max_length=100, label=LABELS["exercise"])
    part = forms.CharField(max_length=120, label=LABELS["part"], required=False)
    series = forms.CharField(max_length=60, label=LABELS["series"])
    family = forms.CharField(
        max_length=60,
        label=LABELS["family"],
        help_text="The same idea elsewhere; first place to look for a substitute.",
    )
    position_in_series = number(LABELS["position_in_series"], required=False)
    order_in_apparatus = number(LABELS["order_in_apparatus"], required=False)
    level = number(LABELS["level"], help_text="1 to 5")
    supervision = choice(LABELS["supervision"], columns.SUPERVISION)
    purpose = forms.MultipleChoiceField(label=LABELS["purpose"], widget=forms.CheckboxSelectMultiple)
    reps_low = number(LABELS["reps_low"])
    reps_high = number(LABELS["reps_high"])
    reps_basis = choice(LABELS["reps_basis"], columns.BASES)
    tempo_seconds_per_rep = number(LABELS["tempo_seconds_per_rep"], step="any")
    setup_seconds = number(LABELS["setup_seconds"], step="any")
    springs_usual = number(LABELS["springs_usual"], required=False)
    springs_min = number(LABELS["springs_min"], required=False)
    springs_max = number(LABELS["springs_max"], required=False)
    spring_effect = choice(LABELS["spring_effect"], columns.EFFECTS)
    start_position = forms.ChoiceField(label=LABELS["start_position"])
    pattern = forms.CharField(max_length=80, label=LABELS["pattern"], help_text="For example: out-in, each side")
    equipment_setup = forms.CharField(max_length=160, label=LABELS["equipment_setup"])
    usual_regression = words(LABELS["usual_regression"], rows=3, required=True)
    stretch_joint = forms.CharField(
        max_length=80, required=False, label=LABELS["stretch_joint"],
        help_text="Only with a strong stretch at end range; joints apart by “;”",
    )  # fmt: skip
    before = words(LABELS["prerequisite_ids"], rows=3,
                   help_text="Codes, one condition a line. “R-FRO or R-LEG”: either is enough.")  # fmt: skip
    prerequisites = words(LABELS["prerequisites"])
    rep_pool = forms.CharField(max_length=12, required=False, label=LABELS["rep_pool"])
    rep_pool_total = number(LABELS["rep_pool_total"], required=False)
    rep_pool_role = choice(LABELS["rep_pool_role"], {"": "no pool", **columns.ROLES}, required=False)
    rep_pool_min = number(LABELS["rep_pool_min"], required=False)
    note = words(LABELS["note"])

    def __init__(
        self, data: Any, *, row: Mapping[str, str], aims: Pairs, positions: Iterable[str], demands: Pairs, setup: str
    ) -> None:
        self.row = row
        super().__init__(data, initial=self._initial(row))
        self._choose("purpose", aims)
        self._choose("start_position", [(one, one) for one in positions])
        self.fields["equipment_setup"].help_text = setup
        self.codes = [code for code, _ in demands]
        for code, name in demands:
            self.fields[f"demand_{code}"] = forms.ChoiceField(
                label=name, choices=STATES, required=False, initial=self._state(code)
            )

    def _choose(self, name: str, choices: Pairs) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = list(choices)

    @property
    def demand_fields(self) -> list[forms.BoundField]:
        return [self[f"demand_{code}"] for code in self.codes]

    def field_of(self, column: str) -> str:
        return {"prerequisite_ids": "before", "demands_removable": "", "demands": "", "regression_adds": ""}.get(
            column, column
        )

    def columns(self) -> dict[str, str]:
        """The columns as the table has them; raises AttributeError on a form that is not valid."""
        told = self.cleaned_data
        same = [name for name in columns.ROW_COLUMNS if name in self.fields and name != "purpose"]
        found = {name: told[name] for name in same}
        was = [aim for aim in split(self.row.get("purpose", "")) if aim in told["purpose"]]
        found["purpose"] = ";".join([*was, *(aim for aim in told["purpose"] if aim not in was)])
        found["prerequisite_ids"] = _groups(told["before"])
        for column, states in (
            ("demands", {"asks", "removable"}), ("demands_removable", {"removable"}), ("regression_adds", {"brings"}),
        ):  # fmt: skip
            found[column] = self._demands(column, states)
        return found

    def _demands(self, column: str, states: set[str]) -> str:
        """Codes in the order they stood in; a demand whose answer was not touched stays as it was."""
        was = split(self.row.get(column, ""))
        chosen = {code for code in self.codes if self.cleaned_data[f"demand_{code}"] in states}
        untouched = {code for code in self.codes if self.cleaned_data[f"demand_{code}"] == self._state(code)}
        kept = [code for code in was if code in (untouched | chosen) or code not in self.codes]
        return ";".join([*kept, *(code for code in self.codes if code in chosen and code not in kept)])

    def _state(self, code: str) -> str:
        if code in split(self.row.get("demands", "")):
            return "removable" if code in split(self.row.get("demands_removable", "")) else "asks"
        return "brings" if code in split(self.row.get("regression_adds", "")) else ""

    def _initial(self, row: Mapping[str, str]) -> dict[str, Any]:
        before = "\n".join(" or ".join(group.split("|")) for group in split(row.get("prerequisite_ids", "")))
        return {**row, "purpose": split(row.get("purpose", "")), "before": before}


def _groups(lines: str) -> str:
    """`R-FRO` and `R-LEG or R-PEL` on lines of their own, as the table writes them."""
    groups = (part for line in lines.splitlines() for part in line.split(";"))
    read = ("|".join(one.strip().upper() for one in group.replace("|", " or ").split(" or ")) for group in groups)
    return ";".join(group for group in read if group)


class NewRowForm(RowForm):
    apparatus = forms.ChoiceField(
        label=LABELS["apparatus"], choices=[(kind.value, kind.value) for kind in ApparatusKind]
    )
    origin = choice(LABELS["origin"], {"contemporary": "contemporary", "classical": "classical"})
    field_order = ("exercise", "part", "apparatus")

    def columns(self) -> dict[str, str]:
        return super().columns() | {name: self.cleaned_data[name] for name in ("apparatus", "origin")}


STEP = columns.STEP_LABELS


STEP_STATES = [("", "nothing"), ("removes", "takes it out"), ("adds", "brings it in")]


class StepForm(EntryForm):
    """A step of a ladder."""

    kind = choice(STEP["kind"], columns.KINDS)
    when_seen = words(STEP["when_seen"], help_text="A body, a fault or a sign; empty for an easier or harder form.")
    change = words(STEP["change"], required=True)
    repertoire_ids = forms.CharField(
        max_length=200, label=STEP["repertoire_ids"], help_text="Codes apart by “;”: the exercises it belongs to."
    )
    substitutes_row = forms.CharField(
        max_length=12, required=False, label=STEP["substitutes_row"], help_text="Its code, when it is another exercise."
    )

    def __init__(self, data: Any, *, row: Mapping[str, str], demands: Pairs) -> None:
        self.row = row
        super().__init__(data, initial=dict(row))
        self.codes = [code for code, _ in demands]
        for code, name in demands:
            state = next((column for column in ("removes", "adds") if code in split(row.get(column, ""))), "")
            self.fields[f"demand_{code}"] = forms.ChoiceField(
                label=name, choices=STEP_STATES, required=False, initial=state
            )

    @property
    def demand_fields(self) -> list[forms.BoundField]:
        return [self[f"demand_{code}"] for code in self.codes]

    def field_of(self, column: str) -> str:
        return "" if column in ("removes", "adds") else column

    def columns(self) -> dict[str, str]:
        told = self.cleaned_data
        found = {name: told[name] for name in ("kind", "when_seen", "change", "substitutes_row")}
        found["repertoire_ids"] = ";".join(split(told["repertoire_ids"].replace(",", ";").upper()))
        for column in ("removes", "adds"):
            chosen = [code for code in self.codes if told[f"demand_{code}"] == column]
            kept = [code for code in split(self.row.get(column, "")) if code in chosen]
            found[column] = ";".join([*kept, *(code for code in chosen if code not in kept)])
        return found


class NewStepForm(StepForm):
    ladder = forms.ChoiceField(label=STEP["ladder"])
    field_order = ("ladder",)

    def __init__(self, data: Any, *, row: Mapping[str, str], demands: Pairs, ladders: Iterable[str]) -> None:
        super().__init__(data, row=row, demands=demands)
        field = self.fields["ladder"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(name, name.replace("_", " ")) for name in ladders]

    def columns(self) -> dict[str, str]:
        return super().columns() | {"ladder": self.cleaned_data["ladder"]}


class ReasonForm(ReasonedForm):
    """A few words on taking something out of use."""

    why = forms.CharField(max_length=LONGEST, label="Why it goes out of use", required=False)


class AnswerForm(ReasonedForm):
    """The owner's words on a proposal, and the version it was compared with."""

    answer = forms.CharField(
        max_length=LONGEST, required=False, label="Words for whoever proposed it",
        help_text="Needed when you turn it down.",
    )  # fmt: skip
    seen = forms.IntegerField(required=False, min_value=0, max_value=32767, widget=forms.HiddenInput)
