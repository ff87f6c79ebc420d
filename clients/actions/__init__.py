"""Writes of the clients' app; the only room that opens sealed words."""

from clients.actions.asking import ask_form_again
from clients.actions.care import give_care, sign_level, take_back_care
from clients.actions.chasing import print_request, read_asks, read_request, remind_due, remind_now
from clients.actions.consents import give_consent, withdraw_consent
from clients.actions.erasing import erase_again, erase_client, sweep_files
from clients.actions.exporting import Exported, export_client
from clients.actions.files import OpenedFile
from clients.actions.files import read as read_file
from clients.actions.forms import (
    OpenForm,
    Saved,
    SignedForm,
    open_form,
    save_screen,
    signed_outcome,
)
from clients.actions.health import Brief, LimitSheet, read_brief, read_limit_sheet, read_limits
from clients.actions.importing import (
    Preview,
    bring_in_list,
    leave_list,
    look_at_list,
    preview_list,
    rest_of_list,
    set_columns,
    take_back_list,
)
from clients.actions.letterbox import (
    ReadLetter,
    confirm_letter,
    end_letter,
    hand_in,
    read_back,
    read_letter,
    route_letter,
    set_aside,
)
from clients.actions.links import (
    LinkGone,
    MadeLink,
    close_form_link,
    hand_over_form,
    make_form_link,
    send_form_link,
    type_in_form,
)
from clients.actions.merging import merge_clients, undo_merge
from clients.actions.nightly import Night, look_again
from clients.actions.people import LooksLike, add_client, change_client, contact_at
from clients.actions.photographs import keep_photograph, remove_photograph
from clients.actions.readings import Taken, record_readings, repeat_reading, strike_readings
from clients.actions.reference import ReferenceLoaded, load_reference
from clients.actions.restrictions import Terms, end_restriction, restrict
from clients.actions.signing import Read, sign_form, write_form
from clients.actions.versions import (
    Compared,
    VersionRead,
    Versions,
    compare_versions,
    form_versions,
    read_version,
)
from clients.actions.visits import call_review, count_visit, finish_review, raise_due_reviews, uncount_visit
from clients.actions.windows import WHOSE_WORD, confirm_window_end, settle_condition

__all__ = [
    "WHOSE_WORD",
    "Brief",
    "Compared",
    "Exported",
    "LimitSheet",
    "LinkGone",
    "LooksLike",
    "MadeLink",
    "Night",
    "OpenForm",
    "OpenedFile",
    "Preview",
    "Read",
    "ReadLetter",
    "ReferenceLoaded",
    "Saved",
    "SignedForm",
    "Taken",
    "Terms",
    "VersionRead",
    "Versions",
    "add_client",
    "ask_form_again",
    "bring_in_list",
    "call_review",
    "change_client",
    "close_form_link",
    "compare_versions",
    "confirm_letter",
    "confirm_window_end",
    "contact_at",
    "count_visit",
    "end_letter",
    "end_restriction",
    "erase_again",
    "erase_client",
    "export_client",
    "finish_review",
    "form_versions",
    "give_care",
    "give_consent",
    "hand_in",
    "hand_over_form",
    "keep_photograph",
    "leave_list",
    "load_reference",
    "look_again",
    "look_at_list",
    "make_form_link",
    "merge_clients",
    "open_form",
    "preview_list",
    "print_request",
    "raise_due_reviews",
    "read_asks",
    "read_back",
    "read_brief",
    "read_file",
    "read_letter",
    "read_limit_sheet",
    "read_limits",
    "read_request",
    "read_version",
    "record_readings",
    "remind_due",
    "remind_now",
    "remove_photograph",
    "repeat_reading",
    "rest_of_list",
    "restrict",
    "route_letter",
    "save_screen",
    "send_form_link",
    "set_aside",
    "set_columns",
    "settle_condition",
    "sign_form",
    "sign_level",
    "signed_outcome",
    "strike_readings",
    "sweep_files",
    "take_back_care",
    "take_back_list",
    "type_in_form",
    "uncount_visit",
    "undo_merge",
    "withdraw_consent",
    "write_form",
]
