"""Shapes of the desk's input about clients; what is allowed is decided by rules and actions."""

from collections.abc import Mapping, Sequence
from typing import Any, cast
from uuid import UUID

from django import forms

from clients import actions, queries
from clients.rules import Pressure, importing, triggers
from clients.rules.readings import Sitting
from clients.rules.reference import Intensity
from clients.rules.terms import EFFORTS, Entered
from studio import queries as studio_queries
from studio.doors.fields import ReasonedForm

CONSENT = [("yes", "Yes"), ("no", "No")]
CONSENT_KINDS = ("touch", "photographs", "messages")
HEALTH_STAYS = "This looks like health. It belongs on the client’s own form, where only the teachers read it."
MOST_SAVES = 2_000_000_000


class SearchForm(forms.Form):
    """A search travels in the body of a request, so that no name stands in an address."""

    text = forms.CharField(label="Name, phone or e-mail", max_length=120, required=False)


class ClientForm(ReasonedForm):
    name = forms.CharField(label="Name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    email = forms.EmailField(
        label="E-mail",
        max_length=254,
        required=False,
        help_text="The private link to the health form goes here. For a minor: a parent's or guardian's.",
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    phone = forms.CharField(
        label="Phone",
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
    )
    born_on = forms.DateField(
        label="Born on",
        required=False,
        help_text="Under 18, a guardian signs the health form.",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    pronoun = forms.CharField(label="Pronoun", max_length=40, required=False)
    say_it = forms.CharField(label="How to say the name", max_length=120, required=False)
    home_id = forms.ChoiceField(label="Usual location", required=False)
    guardian_name = forms.CharField(label="Guardian of a minor", max_length=120, required=False)
    emergency_name = forms.CharField(label="In an emergency, call", max_length=120, required=False)
    emergency_phone = forms.CharField(
        label="Their phone", max_length=40, required=False, widget=forms.TextInput(attrs={"type": "tel"})
    )
    notes = forms.CharField(
        label="Notes for everyone",
        max_length=2000,
        required=False,
        help_text="Nothing about health: that belongs on the client's own form.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if not self.is_bound or not self.errors:
            self.fields["name"].widget.attrs["autofocus"] = True
        choices = [(str(studio.id), studio.name) for studio in studio_queries.studios()]
        cast(forms.ChoiceField, self.fields["home_id"]).choices = [("", "Any of them"), *choices]

    def clean_home_id(self) -> int | None:
        return int(self.cleaned_data["home_id"]) if self.cleaned_data["home_id"] else None


class NewClientForm(ClientForm):
    """`different_from` holds the cards that were shown and are somebody else."""

    different_from = forms.CharField(required=False, max_length=600, widget=forms.HiddenInput)

    def clean_different_from(self) -> tuple[UUID, ...]:
        found = []
        for text in self.cleaned_data["different_from"].split():
            try:
                found.append(UUID(text))
            except ValueError:
                continue
        return tuple(found)


class ConsentForm(ReasonedForm):
    """A consent told at the desk, or taken back there."""

    deed = forms.ChoiceField(choices=[("give", "given"), ("take_back", "taken back")])
    kind = forms.ChoiceField(choices=[(kind, kind) for kind in CONSENT_KINDS])
    given_by = forms.CharField(label="Who gives it", max_length=120, required=False)


class MergeForm(ReasonedForm):
    """One choice for each field in which two cards differ; kinds of consent that stay open by word of mouth."""

    def __init__(self, *args: Any, sides: queries.SideBySide, **options: Any) -> None:
        super().__init__(*args, **options)
        for line in sides.lines:
            choices = [("kept", line.kept), ("gone", line.gone), *([("both", "both")] if line.may_keep_both else [])]
            self.fields[line.key] = forms.ChoiceField(label=line.word, choices=choices)
        self.keys = [line.key for line in sides.lines]
        self.fields["stay_open"] = forms.MultipleChoiceField(choices=sides.consents, required=False)
        # The refusals of a merge name the other card.
        self.fields["other"] = forms.CharField(required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        choices = {key: data[key] for key in self.keys if key in data}
        return {"choices": choices, "stay_open": data.get("stay_open", [])}


class ListFileForm(ReasonedForm):
    file = forms.FileField(
        label="The list",
        max_length=200,
        help_text="A CSV file of at most 2 MB and 5,000 rows, one person a row, column names in the first one.",
        error_messages={"required": "Choose the file first.", "empty": "That file is empty."},
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,text/csv"}),
    )


class ColumnsForm(ReasonedForm):
    """What each column of a list holds, and how its days are written."""

    days = forms.ChoiceField(
        label="Days are written",
        choices=[
            ("iso", "1985-05-31"),
            ("day_first", "31.05.1985, day first"),
            ("month_first", "05/31/1985, month first"),
        ],
    )
    # A reason about all columns goes here.
    columns = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, header: tuple[str, ...], **options: Any) -> None:
        super().__init__(*args, **options)
        for number, title in enumerate(header):
            is_health = importing.is_health(title)
            left = [("", "leave it out")]
            taken = [] if is_health else list(importing.COLUMNS.items())
            self.fields[f"column_{number}"] = forms.ChoiceField(
                label=title or f"Column {number + 1}",
                choices=left + taken,
                required=False,
                help_text=HEALTH_STAYS if is_health else "",
                error_messages={"invalid_choice": HEALTH_STAYS if is_health else "A card has no such field."},
            )
        self.width = len(header)

    def columns_told(self) -> list[str]:
        return [self.cleaned_data[f"column_{number}"] for number in range(self.width)]


class BringInForm(ReasonedForm):
    """The lines that look like somebody and are somebody else, and the mark of what was seen."""

    also = forms.TypedMultipleChoiceField(coerce=int, required=False)
    seen = forms.CharField(max_length=32, widget=forms.HiddenInput)

    def __init__(self, *args: Any, lines: list[int], **options: Any) -> None:
        super().__init__(*args, **options)
        cast(forms.TypedMultipleChoiceField, self.fields["also"]).choices = [(str(one), str(one)) for one in lines]


class WhyForm(ReasonedForm):
    why = forms.CharField(
        label="Why do you need to look?",
        max_length=200,
        help_text="Kept with your name and the time, and not sealed: leave health out of it.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class SignForm(ReasonedForm):
    name = forms.CharField(
        max_length=120,
        error_messages={"required": "Please write your name on the line under your answers."},
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    signed_as = forms.ChoiceField(choices=[("client", "client"), ("guardian", "guardian")], required=False)
    on_paper_of = forms.DateField(
        label="Day written on the paper",
        required=False,
        help_text="Only for a paper form. It holds a year from that day.",
        error_messages={"invalid": "There is no such day. Which day is written on the paper?"},
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    touch = forms.ChoiceField(choices=CONSENT, required=False)
    photographs = forms.ChoiceField(choices=CONSENT, required=False)
    messages = forms.ChoiceField(choices=CONSENT, required=False)
    # Which answers and which rules the card showed; both travel with it.
    saves = forms.IntegerField(required=False, min_value=0, max_value=MOST_SAVES, widget=forms.HiddenInput)
    rules_id = forms.IntegerField(required=False, min_value=0, max_value=MOST_SAVES, widget=forms.HiddenInput)

    def signature(self) -> dict[str, Any]:
        """What the action that signs is given."""
        data = self.cleaned_data
        read = None
        if data["saves"] is not None and data["rules_id"] is not None:
            read = actions.Read(data["saves"], data["rules_id"])
        return {
            "name": data["name"],
            "signed_as": data["signed_as"],
            "on_paper_of": data["on_paper_of"],
            "consents": {kind: data[kind] == "yes" for kind in CONSENT_KINDS if data[kind]},
            "read": read,
        }


class TypeInForm(ReasonedForm):
    """Asked of whoever does not teach the client now; the others have their reason in their care for her."""

    why = forms.CharField(
        label="Why do you type it in?",
        max_length=200,
        help_text="You have no lesson with this client now, so this is kept with your name and the time.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, needs_why: bool, **options: Any) -> None:
        super().__init__(*args, **options)
        if not needs_why:
            del self.fields["why"]


class VersionsForm(forms.Form):
    """Which two versions are laid beside each other, and the reason of whoever has no care for the client."""

    why = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)
    older = forms.IntegerField(min_value=1, max_value=MOST_SAVES, required=False)
    newer = forms.IntegerField(min_value=1, max_value=MOST_SAVES, required=False)


class OfTheFloorForm(ReasonedForm):
    """What a teacher sends from the health page; `why` goes along when she opened it with a reason.

    `named` sets the fields of several such forms on one page apart.
    """

    named = "deed"
    why = forms.CharField(max_length=200, required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **({"auto_id": f"{self.named}_%s"} | options))


def _number(label: str, **words: Any) -> forms.IntegerField:
    widget = forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    wrong = {"invalid": "Please write a whole number, as the device shows it."}
    return forms.IntegerField(label=label, required=False, widget=widget, error_messages=wrong, **words)


class PressureForm(OfTheFloorForm):
    """One blood pressure, upper and lower number; the repeat of a sitting is no more than this."""

    systolic_1 = _number("Upper number", min_value=0, max_value=999)
    diastolic_1 = _number("Lower number", min_value=0, max_value=999)
    is_sure = forms.BooleanField(label="Yes, the device showed this", required=False)

    def pair(self, number: int) -> Pressure | None:
        """A pressure that was given whole; one half alone is asked for the other."""
        upper, lower = (self.cleaned_data.get(f"{part}_{number}") for part in ("systolic", "diastolic"))
        return None if upper is None or lower is None else Pressure(upper, lower)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for number in (1, 2):
            halves = [f"systolic_{number}", f"diastolic_{number}"]
            given = [name for name in halves if data.get(name) is not None or name in self.errors]
            if len(given) == 1:
                missing = next(name for name in halves if name not in given)
                self.add_error(missing, "Both numbers are needed. What was the other one?")
        return data


class RepeatForm(PressureForm):
    named = "repeat"

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors and self.pair(1) is None:
            self.add_error("systolic_1", "What did the device show the second time?")
        return data


YES_NO_NOT_ASKED = [("", "Not asked"), ("no", "No"), ("yes", "Yes")]


class ReadingsForm(PressureForm):
    named = "readings"
    systolic_2 = _number("Upper number, second time", min_value=0, max_value=999)
    diastolic_2 = _number("Lower number, second time", min_value=0, max_value=999)
    heart_rate = _number("Heart rate", min_value=0, max_value=999, help_text="Beats a minute, at rest.")
    standing_drop = _number(
        "Fall on standing up",
        min_value=-999,
        max_value=999,
        help_text="Upper number seated less upper number standing.",
    )
    has_signs = forms.ChoiceField(
        label="With it: confusion, chest pain, breathlessness or change of sight?",
        choices=YES_NO_NOT_ASKED,
        required=False,
        widget=forms.RadioSelect,
    )
    is_treated = forms.ChoiceField(
        label="Takes medicine for the pressure?", choices=YES_NO_NOT_ASKED, required=False, widget=forms.RadioSelect
    )
    is_faint = forms.BooleanField(label="Feels faint or dizzy now", required=False)

    def sitting(self) -> Sitting:
        """What was typed, for the rules to look at."""
        told = {"yes": True, "no": False}
        return Sitting(
            pressures=tuple(filter(None, (self.pair(1), self.pair(2)))),
            heart_rate=self.cleaned_data["heart_rate"],
            is_treated=told.get(self.cleaned_data["is_treated"]),
            has_signs=told.get(self.cleaned_data["has_signs"]),
            standing_drop=self.cleaned_data["standing_drop"],
            is_faint=self.cleaned_data["is_faint"],
            is_sure=self.cleaned_data["is_sure"],
        )


class RestrictForm(OfTheFloorForm):
    """Movements to leave out or to change. `is_own_words` says that they stand for the client's own words."""

    named = "restrict"
    is_own_words = forms.BooleanField(required=False, widget=forms.HiddenInput)
    demands = forms.MultipleChoiceField(label="Movements", required=False, widget=forms.CheckboxSelectMultiple)
    means_none = forms.BooleanField(label="The words ask for no movement to be left out", required=False)
    level = forms.ChoiceField(
        label="How",
        choices=[("avoid", "Left out"), ("adapt", "Only in its changed form"), ("watch", "Watched")],
        widget=forms.RadioSelect,
        initial="avoid",
    )
    side = forms.ChoiceField(
        label="Side",
        choices=[("", "Both"), ("left", "Left"), ("right", "Right")],
        required=False,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        book = queries.rules_in_force().rulebook
        choices = [(demand_id, demand.name) for demand_id, demand in book.demands.items()]
        cast(forms.MultipleChoiceField, self.fields["demands"]).choices = choices

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        chosen, none = data.get("demands"), data.get("means_none")
        if "demands" in self.errors:
            return data
        if data.get("is_own_words") and not chosen and not none:
            self.add_error("demands", "Which movements do the words mean? If none, say so below.")
        elif chosen and none:
            self.add_error("means_none", "Movements are chosen above. Is it these, or none?")
        return data


class AskAgainForm(OfTheFloorForm):
    """`trigger` is what has happened; `why` stays the reason for looking."""

    named = "asking"
    trigger = forms.ChoiceField(
        label="What has happened?",
        choices=list(triggers.TRIGGERS.items()),
        error_messages={"required": "What has happened? Choose one."},
        widget=forms.RadioSelect,
    )
    kind = forms.ChoiceField(
        label="Which form?", choices=list(triggers.KINDS.items()), initial="full", widget=forms.RadioSelect
    )
    is_sent = forms.BooleanField(label="Send the private link now", required=False)


class SettleForm(OfTheFloorForm):
    named = "settle"
    whose_word = forms.ChoiceField(
        label="Whose word is it?",
        choices=[("", "Choose"), *actions.WHOSE_WORD.items()],
        required=False,
    )


class RecordForm(ReasonedForm):
    """Taking out a record: asked for by whom and why, and the password once more."""

    why = forms.CharField(
        label="Why is it taken out?",
        max_length=200,
        help_text="Kept for good with your name, so leave the client's name out. “Asked for by the client” will do.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    password = forms.CharField(
        label="Your password once more",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class EraseForm(RecordForm):
    typed = forms.CharField(
        label="The name on the card, to confirm",
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    field_order = ("typed", "why", "password")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["why"].label = "Why is it erased?"


class ReasonForm(ReasonedForm):
    """A deed in somebody's name."""

    why = forms.CharField(
        label="Why?",
        max_length=200,
        help_text="Kept with your name and the time. No client’s name here.",
        error_messages={"required": "Say why in a few words; it is kept with your name."},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class ChoiceForm(ReasonForm):
    """One point of the rules: a position, or a line as a whole number."""

    def __init__(self, *args: Any, options: Sequence[tuple[str, str]], unit: str, **words: Any) -> None:
        super().__init__(*args, **words)
        if options:
            self.fields["value"] = forms.ChoiceField(label="Position", choices=options, widget=forms.RadioSelect)
        else:
            widget = forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
            self.fields["value"] = forms.CharField(label=f"Line, {unit}", max_length=10, widget=widget)
        self.order_fields(["value", "why"])


class ProposeForm(ReasonedForm):
    note = forms.CharField(
        label="What is this version for?",
        max_length=200,
        error_messages={"required": "Say in a few words what this version is for."},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class RowForm(ProposeForm):
    """One row of a table: a field for each column that is not its key, with the words that the rules know."""

    def __init__(
        self, *args: Any, cells: Sequence[tuple[str, str]], known: Mapping[str, Sequence[str]], **words: Any
    ) -> None:
        super().__init__(*args, **words)
        for column, value in cells:
            label = column.replace("_", " ").capitalize()
            options = [(one, one.replace("_", " ") or "none") for one in known.get(column, ())]
            self.fields[column] = (
                forms.ChoiceField(label=label, choices=options, initial=value, required=False)
                if options
                else forms.CharField(label=label, initial=value, required=False, max_length=2000, widget=_cell(value))
            )
        self.order_fields([*(column for column, _ in cells), "note"])

    def values(self) -> dict[str, str]:
        return {name: value for name, value in self.cleaned_data.items() if name != "note"}


def _cell(value: str) -> forms.Widget:
    return forms.Textarea(attrs={"rows": 2}) if len(value) > 60 else forms.TextInput(attrs={"autocomplete": "off"})


NO_SUCH_DAY = {"invalid": "There is no such day. Which one does the letter name?"}


def _plain() -> forms.Widget:
    return forms.TextInput(attrs={"autocomplete": "off"})


def _date() -> forms.Widget:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class ManyFiles(forms.FileInput):
    allow_multiple_selected = True


class UploadForm(ProposeForm):
    """Changed tables; the page reads the files, each no further than the largest that is taken."""

    tables = forms.CharField(
        label="Changed tables (CSV)",
        required=False,
        help_text="One or more files named like their table, such as limits.csv. The other tables stay as they are.",
        widget=ManyFiles(attrs={"accept": ".csv,text/csv"}),
    )
    field_order = ("tables", "note")


class ReviewForm(ReasonedForm):
    """A review as it was told to the owner."""

    name = forms.CharField(label="Who read it", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    profession = forms.CharField(label="Licensed as", max_length=120, help_text="Such as physiotherapist.")
    on = forms.DateField(label="On", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    what = forms.CharField(
        label="What was read", max_length=300, help_text="Such as: conditions and limits, pressure and pulse."
    )


class HandInForm(ReasonedForm):
    """Whom a letter is laid before; the page reads its files, each no further than the largest that is taken."""

    file = forms.CharField(label="PDF, or photographs of the pages in their order", required=False, widget=ManyFiles())
    routed_to = forms.TypedChoiceField(label="Who reads it", required=False, coerce=int, empty_value=None)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["file"].widget.attrs |= {"accept": "application/pdf,image/jpeg,image/png"}
        choices = [("", "Nobody yet: the owner sees it"), *queries.teachers()]
        cast(forms.TypedChoiceField, self.fields["routed_to"]).choices = choices


class AsideForm(OfTheFloorForm):
    named = "aside"
    because = forms.CharField(
        label="Why is it set aside?",
        max_length=300,
        help_text="Such as: about somebody else; says nothing of moving; the same as the one before.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class LetterForm(OfTheFloorForm):
    """What a person read in a letter. `seen` is the mark of the terms that were read back to her."""

    named = "letter"
    seen = forms.CharField(max_length=64, required=False, widget=forms.HiddenInput)
    clinician = forms.CharField(label="Signed by", max_length=120, required=False, widget=_plain())
    profession = forms.CharField(label="Profession", max_length=120, required=False, widget=_plain())
    dated = forms.DateField(label="Dated", required=False, widget=_date(), error_messages=NO_SUCH_DAY)
    until = forms.DateField(label="Holds until", required=False, widget=_date(), error_messages=NO_SUCH_DAY)
    answers = forms.MultipleChoiceField(
        label="Which questions does it answer?", required=False, widget=forms.CheckboxSelectMultiple
    )
    effort = forms.ChoiceField(
        label="How hard may the work be?",
        choices=[("", "The letter does not say"), *((one.value, words.capitalize()) for one, words in EFFORTS.items())],
        required=False,
        widget=forms.RadioSelect,
    )
    allows = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple)
    forbids = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple)
    words = forms.CharField(
        label="Note for those who teach this client",
        max_length=1000,
        required=False,
        help_text="What the letter says besides. It is sealed with the rest.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, letter: actions.ReadLetter, **options: Any) -> None:
        super().__init__(*args, **options)
        asked = [(one.rule_id, one.says) for one in letter.asks]
        cast(forms.MultipleChoiceField, self.fields["answers"]).choices = asked
        self.fields["until"].help_text = f"Empty: {letter.usual_days} days from its date."
        names = [(one, demand.name) for one, demand in queries.rules_in_force().rulebook.demands.items()]
        for field in ("allows", "forbids"):
            cast(forms.MultipleChoiceField, self.fields[field]).choices = names

    def entered(self) -> Entered:
        data = self.cleaned_data
        given: dict[str, Any] = {name: frozenset(data[name]) for name in ("answers", "allows", "forbids")}
        given |= {name: data[name] for name in ("clinician", "profession", "dated", "until", "words")}
        return Entered(**given, effort=Intensity(data["effort"]) if data["effort"] else None)
