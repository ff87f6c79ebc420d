"""Shapes of input about clients; what is allowed is decided by rules and actions."""

from clients.forms.cards import (
    BringInForm,
    ClientForm,
    ColumnsForm,
    ConsentForm,
    ListFileForm,
    MergeForm,
    NewClientForm,
    SearchForm,
)
from clients.forms.health import (
    AskAgainForm,
    OfTheFloorForm,
    PressureForm,
    ReadingsForm,
    RepeatForm,
    RestrictForm,
    SettleForm,
    WhyForm,
)
from clients.forms.health_form import SignForm, TypeInForm, VersionsForm
from clients.forms.letters import AsideForm, HandInForm, LetterForm, ManyFiles
from clients.forms.rights import EraseForm, RecordForm
from clients.forms.rules import ChoiceForm, ProposeForm, ReasonForm, ReviewForm, RowForm, UploadForm

__all__ = [
    "AsideForm",
    "AskAgainForm",
    "BringInForm",
    "ChoiceForm",
    "ClientForm",
    "ColumnsForm",
    "ConsentForm",
    "EraseForm",
    "HandInForm",
    "LetterForm",
    "ListFileForm",
    "ManyFiles",
    "MergeForm",
    "NewClientForm",
    "OfTheFloorForm",
    "PressureForm",
    "ProposeForm",
    "ReadingsForm",
    "ReasonForm",
    "RecordForm",
    "RepeatForm",
    "RestrictForm",
    "ReviewForm",
    "RowForm",
    "SearchForm",
    "SettleForm",
    "SignForm",
    "TypeInForm",
    "UploadForm",
    "VersionsForm",
    "WhyForm",
]
