"""What may be kept of a file that somebody brings: told by its bytes, never by its name.

A picture is made anew without what it says of place, device and day. A PDF stays as the clinician wrote it, if nothing
in it could act.
"""

import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from PIL import Image, ImageOps
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

from studio.rules import Reason

# All studio defaults.
MOST_BYTES = 10 * 1024 * 1024
MOST_TOGETHER = 14 * 1024 * 1024
MOST_PAGES = 20
MOST_PIXELS = 40_000_000
LONGEST_SIDE = 3200
PORTRAIT_SIDE = 480
MOST_OBJECTS = 20_000
JPEG, PDF = "image/jpeg", "application/pdf"
ENDINGS = {JPEG: "jpg", PDF: "pdf"}
PDF_END, SPACE = b"%%EOF", b" \t\r\n\x00\x0c"
PICTURE_STARTS = {b"\xff\xd8\xff": "JPEG", b"\x89PNG\r\n\x1a\n": "PNG"}
# A PDF has these in it only to act, to fetch, or to carry another file along (ISO 32000-1, 7.11, 12.6).
ACTING_KEYS = frozenset({"/JS", "/JavaScript", "/EmbeddedFiles", "/EmbeddedFile", "/EF", "/RichMedia", "/XFA"})
ACTING_DEEDS = frozenset(
    {"/JavaScript", "/Launch", "/ImportData", "/SubmitForm", "/GoToE", "/Rendition", "/Movie", "/Sound", "/RichMedia"}
)
FIELD = "file"
ALLOWED = "a PDF, or photographs of the pages as JPEG or PNG, 10 MB each at most"


@dataclass(frozen=True)
class Taken:
    """What is kept: the content as it is stored, its media type, and how many pages it has."""

    content: bytes
    media_type: str
    pages: int = 1


def letter_page(content: bytes) -> Taken | Reason:
    """A page or several of a letter, ready to be kept, or why it is not taken."""
    if reason := _size_reason(content):
        return reason
    if content.startswith(b"%PDF-"):
        return _pdf(content)
    return _picture(content, square=False)


def portrait(content: bytes) -> Taken | Reason:
    """A photograph for a card, cut square around its middle, or why it is not taken."""
    return _size_reason(content) or _picture(content, square=True)


def together_reason(sizes: list[int], pages: int) -> Reason | None:
    """Why these files are not taken as one letter; `sizes` in bytes."""
    if not sizes:
        return Reason("no_file", "Choose the file or photograph the letter.", FIELD, ALLOWED)
    if len(sizes) > MOST_PAGES or pages > MOST_PAGES:
        return _too_many_pages()
    if sum(sizes) > MOST_TOGETHER:
        return Reason("too_big", "Together these are more than 14 MB. Take fewer or smaller pictures.", FIELD, ALLOWED)
    return None


def _too_many_pages() -> Reason:
    return Reason("too_many_pages", f"A letter here has {MOST_PAGES} pages at most.", FIELD, ALLOWED)


def _size_reason(content: bytes) -> Reason | None:
    if not content:
        return Reason("empty_file", "This file is empty.", FIELD, ALLOWED)
    if len(content) > MOST_BYTES:
        return Reason("too_big", "This file has more than 10 MB. A photograph of the page is enough.", FIELD, ALLOWED)
    return None


def _picture(content: bytes, *, square: bool) -> Taken | Reason:
    kind = next((name for start, name in PICTURE_STARTS.items() if content.startswith(start)), None)
    if kind is None:
        says = "This is not a PDF, JPEG or PNG, whatever its name says."
        return Reason("unknown_kind", says, FIELD, ALLOWED)
    try:
        with Image.open(io.BytesIO(content), formats=[kind]) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                return _too_many_pixels()
            return Taken(_drawn_anew(picture, square=square), JPEG)
    except Image.DecompressionBombError:
        return _too_many_pixels()
    # Whatever a damaged picture makes the decoder stumble over is one answer to whoever brought it.
    except (OSError, SyntaxError, ValueError, IndexError, TypeError, KeyError, EOFError, ArithmeticError):
        return Reason("broken_file", "This picture is damaged and cannot be opened. Take it again.", FIELD, ALLOWED)


def _too_many_pixels() -> Reason:
    says = "This picture is larger than 40 million dots. A smaller one can be read just as well."
    return Reason("too_many_pixels", says, FIELD, ALLOWED)


def _drawn_anew(picture: Image.Image, *, square: bool) -> bytes:
    """The dots alone, upright and on white: no place, no device, nothing appended."""
    side = PORTRAIT_SIDE if square else LONGEST_SIDE
    # A large JPEG is already decoded smaller, so that it never stands in memory whole.
    picture.draft("RGB", (side, side))
    # Older pictures keep which side is up in their metadata, which goes.
    upright = ImageOps.exif_transpose(picture)
    flat = Image.new("RGB", upright.size, "white")
    if upright.mode in ("RGBA", "LA", "PA") or "transparency" in upright.info:
        seen = upright.convert("RGBA")
        flat.paste(seen, mask=seen.getchannel("A"))
    else:
        flat.paste(upright.convert("RGB"))
    if square:
        flat = ImageOps.fit(flat, (side, side))
    else:
        flat.thumbnail((side, side))
    made = io.BytesIO()
    flat.save(made, "JPEG", quality=86, optimize=True)
    return made.getvalue()


def _pdf(content: bytes) -> Taken | Reason:
    end = content.rfind(PDF_END)
    if end < 0 or content[end + len(PDF_END) :].strip(SPACE):
        return _broken_pdf()
    try:
        reader = PdfReader(io.BytesIO(content))
        if reader.is_encrypted:
            says = "This PDF is locked with a password. Ask for one without, or photograph the pages."
            return Reason("locked_file", says, FIELD, ALLOWED)
        pages = len(reader.pages)
        acts = any(_acts(one) for one in _objects(reader))
    # A parser that is fed with anything may stumble over anything; nothing of it is kept then.
    except Exception:
        return _broken_pdf()
    if acts:
        says = "This PDF carries a program or another file inside. Print it anew as PDF, or photograph the pages."
        return Reason("acting_file", says, FIELD, ALLOWED)
    if not pages:
        return _broken_pdf()
    if pages > MOST_PAGES:
        return _too_many_pages()
    return Taken(content, PDF, pages)


def _broken_pdf() -> Reason:
    says = "This PDF is damaged and cannot be opened. Print it anew as PDF, or photograph the pages."
    return Reason("broken_file", says, FIELD, ALLOWED)


def _objects(reader: PdfReader) -> Iterator[Any]:
    """Every object that the file's own tables name, and the trailer. Raises ValueError when there are too many."""
    numbers = {(number, generation) for generation, table in reader.xref.items() for number in table}
    numbers |= {(number, 0) for number in reader.xref_objStm}
    if len(numbers) > MOST_OBJECTS:
        raise ValueError("more objects than a letter has")
    yield reader.trailer
    for number, generation in sorted(numbers):
        if number:
            yield reader.get_object(IndirectObject(number, generation, reader))


def _acts(found: Any) -> bool:
    """Whether an object, or one written inside it, would act; what it points at is looked at by itself."""
    left, seen = [found], 0
    while left:
        one, seen = left.pop(), seen + 1
        if seen > MOST_OBJECTS:
            raise ValueError("an object larger than a letter needs")
        if isinstance(one, DictionaryObject):
            values = {key: one.raw_get(key) for key in one}
            if ACTING_KEYS & set(values) or values.get("/S") in ACTING_DEEDS:
                return True
            left += values.values()
        elif isinstance(one, ArrayObject):
            left += list(one)
    return False
