"""Shapes of the repertoire: looking through it, changing a row or a step, and deciding what was proposed."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
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


HEADS = {
    "demands": "asked",
    "demands_removable": "easier form takes it out",
    "regression_adds": "easier form brings it in",
    "removes": "takes it out",
    "adds": "brings it in",
}


@dataclass(frozen=True)
class DemandRow:
    """One demand in the table of a form, with each of its boxes: (column, what it says, is ticked)."""

    code: str
    name: str
    boxes: tuple[tuple[str, str, bool], ...]


class DemandsForm(EntryForm):
    """A form with a table of demands: one tick box for each of its `boxed` columns."""

    boxed: tuple[str, ...] = ()

    def __init__(self, data: Any, *, row: Mapping[str, str], demands: Pairs) -> None:
        self.row, self.demand_names = row, list(demands)
        super().__init__(data, initial={**row, **{column: split(row.get(column, "")) for column in self.boxed}})
        for column in self.boxed:
            self.choose(column, self.demand_names)

    def choose(self, name: str, choices: Pairs) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = list(choices)

    @property
    def heads(self) -> list[str]:
        return [HEADS[column] for column in self.boxed]

    @property
    def demand_halves(self) -> tuple[list[DemandRow], list[DemandRow]]:
        """The table in two parts, to stand beside each other."""
        ticked = {column: set(self[column].value() or ()) for column in self.boxed}
        rows = [
            DemandRow(code, name, tuple((column, HEADS[column], code in ticked[column]) for column in self.boxed))
            for code, name in self.demand_names
        ]
        middle = (len(rows) + 1) // 2
        return rows[:middle], rows[middle:]

    def listed(self, column: str, chosen: Iterable[str]) -> str:
        """What is chosen as the table writes it: those that stood there in their order, then the new ones."""
        wanted = list(chosen)
        was = [one for one in split(self.row.get(column, "")) if one in wanted]
        return ";".join([*was, *(one for one in wanted if one not in was)])


def boxes(label: str) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(label=label, required=False, widget=forms.CheckboxSelectMultiple)


LABELS = columns.ROW_LABELS


class RowForm(DemandsForm):
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
    demands, demands_removable = boxes(LABELS["demands"]), boxes(LABELS["demands_removable"])
    regression_adds = boxes(LABELS["regression_adds"])
    boxed = ("demands", "demands_removable", "regression_adds")

    def __init__(
        self, data: Any, *, row: Mapping[str, str], aims: Pairs, positions: Iterable[str], demands: Pairs, setup: str
    ) -> None:
        super().__init__(data, row=row, demands=demands)
        before = (" or ".join(group.split("|")) for group in split(row.get("prerequisite_ids", "")))
        self.initial.update(purpose=split(row.get("purpose", "")), before="\n".join(before))
        self.choose("purpose", aims)
        self.choose("start_position", [(one, one) for one in positions])
        self.fields["equipment_setup"].help_text = setup

    def field_of(self, column: str) -> str:
        return "before" if column == "prerequisite_ids" else column

    def columns(self) -> dict[str, str]:
        """The columns as the table has them; raises AttributeError on a form that is not valid."""
        told = self.cleaned_data
        found = {name: told[name] for name in columns.ROW_COLUMNS if name in self.fields}
        found["prerequisite_ids"] = _groups(told["before"])
        # What can be taken out is asked for, also where only the second box was ticked.
        asked = [code for code, _ in self.demand_names if code in told["demands"] or code in told["demands_removable"]]
        return found | {
            "purpose": self.listed("purpose", told["purpose"]),
            "demands": self.listed("demands", asked),
            "demands_removable": self.listed("demands_removable", told["demands_removable"]),
            "regression_adds": self.listed("regression_adds", told["regression_adds"]),
        }


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


class StepForm(DemandsForm):
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
    removes, adds = boxes(STEP["removes"]), boxes(STEP["adds"])
    boxed = ("removes", "adds")

    def columns(self) -> dict[str, str]:
        told = self.cleaned_data
        found = {name: told[name] for name in ("kind", "when_seen", "change", "substitutes_row")}
        found["repertoire_ids"] = ";".join(split(told["repertoire_ids"].replace(",", ";").upper()))
        return found | {name: self.listed(name, told[name]) for name in self.boxed}


class NewStepForm(StepForm):
    ladder = forms.ChoiceField(label=STEP["ladder"])
    field_order = ("ladder",)

    def __init__(self, data: Any, *, row: Mapping[str, str], demands: Pairs, ladders: Iterable[str]) -> None:
        super().__init__(data, row=row, demands=demands)
        self.choose("ladder", [(name, name.replace("_", " ")) for name in ladders])

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
