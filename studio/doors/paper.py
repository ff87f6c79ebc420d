"""Paper: a typst page of an app filled with plain values, as PDF. Nothing is fetched, and nothing is left on a disk."""

import json
from pathlib import Path
from typing import Any

import typst
from django.http import HttpResponse
from django.template import TemplateDoesNotExist
from django.template.utils import get_app_template_dirs

# The typeface of the screens in the one form a PDF can hold: plain outlines of two weights.
FONTS = Path(__file__).parents[1] / "paper_fonts"


def pdf(page: str, values: dict[str, Any]) -> bytes:
    """The page, such as "clients/blank_form.typ", with `values` as its `json(bytes(sys.inputs.values))`.

    The page's folder is its root: it may import its neighbours and nothing else. Raises TemplateDoesNotExist.
    """
    for folder in get_app_template_dirs("templates"):
        found = Path(folder) / page
        if found.is_file():
            # Beside the product's typeface stand typst's own, and the system's for the letters that both lack.
            made = typst.compile(
                str(found),
                root=str(found.parent),
                font_paths=[str(FONTS)],
                sys_inputs={"values": json.dumps(values, default=str)},
            )
            assert isinstance(made, bytes)
            return made
    raise TemplateDoesNotExist(page)


def answer(content: bytes, *, name: str) -> HttpResponse:
    """The PDF as it is opened in the browser, kept by nobody on the way; `name` names no person."""
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    response["Cache-Control"] = "no-store"
    return response
