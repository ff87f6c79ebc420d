"""Pages of the clients' app, split by who uses them."""

from clients.pages.chasing import paper_print, paper_remind, paper_request, papers_desk, papers_floor
from clients.pages.consents import consents
from clients.pages.desk import add, card, change, find, listing
from clients.pages.floor import coming_panel, review_held, reviews_panel
from clients.pages.form import form, form_card, form_later, form_screen, form_signed
from clients.pages.handing import form_back, form_here, send_form, type_in
from clients.pages.health import ask_again, health, settle, window_end
from clients.pages.importing import (
    import_columns,
    import_leave,
    import_list,
    import_rest,
    import_rows,
    import_take_back,
)
from clients.pages.letters import (
    hand_in,
    letter,
    letter_aside,
    letter_confirm,
    letter_end,
    letter_file,
    letter_route,
    letters,
    letters_panel,
)
from clients.pages.merging import merge, merge_undo, same_person
from clients.pages.papers import blank_form, version_paper
from clients.pages.photographs import photograph, photograph_change, photograph_remove
from clients.pages.readings import reading_repeat, reading_strike, readings
from clients.pages.restrictions import end_restriction, restrict
from clients.pages.rights import erase, export, looked
from clients.pages.versions import versions

__all__ = [
    "add",
    "ask_again",
    "blank_form",
    "card",
    "change",
    "coming_panel",
    "consents",
    "end_restriction",
    "erase",
    "export",
    "find",
    "form",
    "form_back",
    "form_card",
    "form_here",
    "form_later",
    "form_screen",
    "form_signed",
    "hand_in",
    "health",
    "import_columns",
    "import_leave",
    "import_list",
    "import_rest",
    "import_rows",
    "import_take_back",
    "letter",
    "letter_aside",
    "letter_confirm",
    "letter_end",
    "letter_file",
    "letter_route",
    "letters",
    "letters_panel",
    "listing",
    "looked",
    "merge",
    "merge_undo",
    "paper_print",
    "paper_remind",
    "paper_request",
    "papers_desk",
    "papers_floor",
    "photograph",
    "photograph_change",
    "photograph_remove",
    "reading_repeat",
    "reading_strike",
    "readings",
    "restrict",
    "review_held",
    "reviews_panel",
    "same_person",
    "send_form",
    "settle",
    "type_in",
    "version_paper",
    "versions",
    "window_end",
]
