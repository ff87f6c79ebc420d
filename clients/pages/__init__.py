"""Pages of the clients' app, split by who uses them."""

from clients.pages.desk import add, card, change, find, form_here, listing, send_form
from clients.pages.floor import health, review_held, reviews_panel, settle
from clients.pages.form import form, form_card, form_later, form_screen, form_signed

__all__ = [
    "add",
    "card",
    "change",
    "find",
    "form",
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
]
