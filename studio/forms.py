"""Shapes of the studio's HTML input; what is allowed is decided by rules and actions."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm

from studio.doors.fields import ReasonedForm, StretchesField
from studio.queries.people import WORKPLACES
from studio.rules import Role
from studio.rules.house import WEEKDAYS

ROLE_CHOICES = [(role.value, words) for role, words in WORKPLACES.items()]
NEW_PASSWORD = {"autocomplete": "new-password"}


class LoginForm(AuthenticationForm):
    error_messages = {
        "invalid_login": "E-mail and password do not belong together. Look at both, and at the shift lock.",
        "inactive": "This account is closed.",
    }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["username"].widget = forms.EmailInput(attrs={"autocomplete": "username", "maxlength": 254})

    def clean_username(self) -> str:
        # One spelling, so that wrong passwords are counted for the person and not for each way to write her address.
        address: str = self.cleaned_data["username"].strip().lower()
        if len(address) > 254:
            raise forms.ValidationError("No e-mail address is as long as that.")
        return address


class ResetForm(forms.Form):
    email = forms.EmailField(label="E-mail", max_length=254, widget=forms.EmailInput(attrs={"autocomplete": "email"}))


class PasswordForm(ReasonedForm):
    password = forms.CharField(
        label="Password",
        max_length=128,
        strip=False,
        help_text="Ten signs or more. A short sentence is easiest to remember.",
        widget=forms.PasswordInput(attrs=NEW_PASSWORD),
    )
    again = forms.CharField(
        label="The same again", max_length=128, strip=False, widget=forms.PasswordInput(attrs=NEW_PASSWORD)
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "again" in data and data.get("password") != data["again"]:
            self.add_error("again", "The two are not the same.")
        return data


class OwnerForm(PasswordForm):
    """The first account. The field of the code is there only when the house asks for one."""

    field_order = ["code", "name", "email", "password", "again", "also"]

    name = forms.CharField(label="Your name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}))
    email = forms.EmailField(
        label="E-mail", max_length=254, help_text="You sign in with it.", widget=forms.EmailInput()
    )
    also = forms.TypedMultipleChoiceField(
        label="What you do yourself",
        choices=[(Role.DESK.value, "I work at the desk"), (Role.INSTRUCTOR.value, "I teach")],
        coerce=Role,
        required=False,
        initial=[Role.DESK.value],
        help_text="Each opens a workplace beside the office. The staff page changes it later.",
        widget=forms.CheckboxSelectMultiple,
    )
    code = forms.CharField(
        label="Code of the first day",
        max_length=40,
        help_text="It proves that the house is yours: “manage.py prepare” printed it at the installation.",
        error_messages={"required": "The code is needed, so that no stranger takes this house."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )

    def __init__(self, *args: Any, asks_code: bool, **options: Any) -> None:
        super().__init__(*args, **options)
        if not asks_code:
            del self.fields["code"]


class RolesField(forms.TypedMultipleChoiceField):
    def __init__(self, **options: Any) -> None:
        super().__init__(
            label="Roles",
            choices=ROLE_CHOICES,
            coerce=Role,
            widget=forms.CheckboxSelectMultiple,
            error_messages={"required": "Choose at least one role."},
            **options,
        )


class InviteForm(ReasonedForm):
    name = forms.CharField(label="Name", max_length=120)
    email = forms.EmailField(label="E-mail", max_length=254)
    roles = RolesField(help_text="Several are fine: each opens its own workplace.")


class RolesForm(ReasonedForm):
    roles = RolesField()


class PlaceForm(ReasonedForm):
    name = forms.CharField(label="Location", max_length=80, help_text="As people call it, for example the street.")
    time_zone = forms.CharField(
        label="Time zone",
        max_length=64,
        help_text="Lessons are kept in this place’s own time, also across clock changes.",
        widget=forms.TextInput(attrs={"list": "zones", "autocomplete": "off", "spellcheck": "false"}),
    )
    address = forms.CharField(label="Address", max_length=200, required=False)


class HouseForm(PlaceForm):
    field_order = ["business", "emergency_number", "name", "time_zone", "address"]

    business = forms.CharField(label="Name of the business", max_length=120)
    emergency_number = forms.CharField(
        label="Emergency number", max_length=20, help_text="Shown when a form or a lesson asks for help at once."
    )


class BusinessForm(ReasonedForm):
    business = forms.CharField(label="Name of the business", max_length=120)
    emergency_number = forms.CharField(label="Emergency number", max_length=20)


class HoursForm(ReasonedForm):
    """A week: `day_0` (Monday) to `day_6`, each a line of stretches."""

    use_required_attribute = False

    def __init__(self, *args: Any, hours: dict[int, Any] | None = None, **options: Any) -> None:
        super().__init__(*args, **options)
        for weekday, name in enumerate(WEEKDAYS):
            line = StretchesField(label=name, initial=(hours or {}).get(weekday, []))
            line.widget.attrs["placeholder"] = "closed"
            self.fields[f"day_{weekday}"] = line

    def hours(self) -> dict[int, Any]:
        return {weekday: self.cleaned_data[f"day_{weekday}"] for weekday in range(7)}


class PolicyForm(ReasonedForm):
    lesson_minutes = forms.IntegerField(label="A lesson lasts", help_text="minutes")
    turnaround_minutes = forms.IntegerField(
        label="Between two lessons on a machine", help_text="minutes to wipe down and set springs"
    )
    cancel_hours = forms.IntegerField(label="Cancelling is free until", help_text="hours before the lesson")
    reminder_hours = forms.CharField(
        label="Reminders leave",
        max_length=40,
        required=False,
        help_text="hours before, with commas between; empty for none",
    )

    def clean_reminder_hours(self) -> list[int]:
        parts = [part.strip() for part in self.cleaned_data["reminder_hours"].split(",") if part.strip()]
        if not all(part.isascii() and part.isdigit() and len(part) < 5 for part in parts):
            raise forms.ValidationError("Write whole hours with commas between, for example 48, 3.")
        return [int(part) for part in parts]


class ClosureForm(ReasonedForm):
    first_day = forms.DateField(label="First day", widget=forms.DateInput(attrs={"type": "date"}))
    last_day = forms.DateField(label="Last day", widget=forms.DateInput(attrs={"type": "date"}))
    why = forms.CharField(label="Why", max_length=120)


class WordsForm(ReasonedForm):
    """A letter's words with their `{placeholders}`."""

    subject = forms.CharField(label="Subject", max_length=200, widget=forms.TextInput(attrs={"dir": "auto"}))
    body = forms.CharField(
        label="Letter", max_length=5000, widget=forms.Textarea(attrs={"rows": 14, "dir": "auto", "spellcheck": "true"})
    )
