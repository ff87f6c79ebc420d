"""The owner's words for the house's letters: read, looked at as a letter, and kept."""

from dataclasses import replace

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from studio import forms, queries
from studio.actions import words as actions
from studio.doors import me
from studio.doors.fields import posted
from studio.pages.entry import status_of
from studio.rules import notices
from studio.rules.notice_texts import PLACEHOLDERS, Words


def words(request: HttpRequest) -> HttpResponse:
    return render(request, "studio/words.html", {"kinds": queries.words()})


def change_words(request: HttpRequest, kind: str) -> HttpResponse:
    row = queries.words_row(kind)
    found = notices.default_words(kind) if "usual" in request.GET else queries.words_in_force(kind)
    form = forms.WordsForm(posted(request), initial={"subject": found.subject, "body": found.body.strip()})
    if "look" not in request.POST and form.carried_out(
        lambda data: actions.write(kind, **data, by=me(request), now=timezone.now())
    ):
        messages.success(request, f"Kept. Every letter “{row.called}” says these words from now on.")
        return redirect("studio:words")
    shown = replace(found, **form.cleaned_data) if form.is_bound and not form.errors else found
    context = {"row": row, "form": form, "usual": "usual" in request.GET, **letter_of(shown)}
    return render(request, "studio/words_form.html", context, status=status_of(form))


def letter_of(found: Words) -> dict[str, object]:
    """The words as somebody would get them, what is filled in, and what stays as it is written."""
    name, _ = queries.signboard()
    return {
        "letter": notices.example(found, house=name),
        "knows": [(f"{{{one}}}", PLACEHOLDERS[one].says) for one in found.knows],
        "strangers": [f"{{{one}}}" for one in notices.strangers(found)],
    }
