"""Pages of the clients' app, split by who uses them."""

from clients.pages.desk import add, card, change, find, listing
from clients.pages.floor import health, review_held, reviews_panel, settle
from clients.pages.form import form, form_card, form_later, form_screen, form_signed
from clients.pages.handing import form_back, form_here, send_form, type_in
from clients.pages.papers import blank_form, version_paper
from clients.pages.versions import versions

__all__ = [
    "add",
    "blank_form",
    "card",
    "change",
    "find",
    "form",
    "form_back",
    "form_card",
    "form_here",
    "form_later",
    "form_screen",
    "form_signed",
    "health",
    "listing",
    "review_held",
    "reviews_panel",
    "send_form",
    "settle",
    "type_in",
    "version_paper",
    "versions",
]
