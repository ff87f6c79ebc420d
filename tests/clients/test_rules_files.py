"""What may be kept of a file: PDFs, photographs with a place in them, bombs, disguises, locked and acting papers."""

import io
import struct
import zipfile
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader, PdfWriter

from clients.rules import files
from clients.rules.files import Taken
from studio.rules import Reason
from tests import papers


def refused(content):
    found = files.letter_page(content)
    assert isinstance(found, Reason), found
    assert found.field == "file" and found.says.endswith(".")
    return found.code


def test_a_pdf_is_kept_as_the_clinician_wrote_it_with_its_pages_counted():
    content = papers.pdf(pages=3)
    assert files.letter_page(content) == Taken(content, "application/pdf", 3)


def test_a_photograph_loses_place_device_and_day_and_stands_upright():
    content = papers.photograph(1200, 900, turned=True)
    with Image.open(io.BytesIO(content)) as before:
        assert before.getexif().get_ifd(papers.GPS)[1] == "N"
    kept = files.letter_page(content)
    assert kept.media_type == "image/jpeg"
    with Image.open(io.BytesIO(kept.content)) as after:
        assert (after.size, dict(after.getexif())) == ((900, 1200), {})
    assert b"Exif" not in kept.content and papers.DEVICE not in kept.content


def test_a_large_photograph_is_kept_no_larger_than_it_can_be_read():
    kept = files.letter_page(papers.photograph(6000, 4000))
    with Image.open(io.BytesIO(kept.content)) as after:
        assert after.size == (3200, 2133)


def test_a_see_through_png_is_kept_on_white_paper():
    kept = files.letter_page(papers.see_through_png())
    with Image.open(io.BytesIO(kept.content)) as after:
        assert after.convert("RGB").getpixel((5, 5)) == (255, 255, 255)


def test_a_portrait_is_cut_square_around_its_middle():
    kept = files.portrait(papers.photograph(1200, 600, marked_middle=True))
    with Image.open(io.BytesIO(kept.content)) as after:
        assert after.size == (480, 480)
        red, green, blue = after.getpixel((240, 240))
        assert red > 200 and green < 60 and blue < 60


def test_a_portrait_is_never_a_pdf():
    assert isinstance(files.portrait(papers.pdf()), Reason)


def test_a_small_file_that_unfolds_to_a_billion_dots_is_refused_before_it_does():
    bomb = papers.png_bomb(32_000, 32_000)
    assert len(bomb) < 2_000_000
    assert refused(bomb) == "too_many_pixels"


def test_the_largest_picture_taken_has_forty_million_dots():
    assert refused(papers.png_bomb(8001, 5000)) == "too_many_pixels"
    assert isinstance(files.letter_page(papers.png_bomb(8000, 5000)), Taken)


def test_a_zip_named_pdf_is_told_by_its_bytes():
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        archive.writestr("letter.pdf", b"%PDF-1.7 not really")
    assert refused(made.getvalue()) == "unknown_kind"


def test_a_pdf_with_a_zip_behind_its_end_is_refused_and_a_picture_loses_what_follows_it():
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        archive.writestr("run.sh", b"echo")
    assert refused(papers.pdf() + made.getvalue()) == "broken_file"
    kept = files.letter_page(papers.photograph(300, 200) + b"<script>alert(1)</script>" + made.getvalue())
    assert b"script" not in kept.content and b"run.sh" not in kept.content


def test_a_page_of_html_in_the_dress_of_a_picture_is_refused():
    assert refused(b"\xff\xd8\xff<html><script>alert(1)</script></html>") == "broken_file"
    assert refused(b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>") == "unknown_kind"


def test_a_pdf_that_needs_a_password_is_refused_with_what_to_do():
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(papers.pdf())))
    writer.encrypt("word")
    assert refused(papers.written(writer)) == "locked_file"


def scripted():
    return papers.pdf_with_open_action("<< /S /JavaScript /JS (app.alert('hello')) >>")


def carrying():
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(papers.pdf())))
    writer.add_attachment("more.bin", b"anything")
    return papers.written(writer)


def launching():
    return papers.pdf_with_open_action("<< /S /Launch /F (cmd.exe) >>")


def scripted_by_an_escaped_name():
    return papers.pdf_with_open_action("<< /S /J#61vaScript /J#53 (app.alert(1)) >>")


@pytest.mark.parametrize("made", [scripted, carrying, launching, scripted_by_an_escaped_name])
def test_a_pdf_that_would_act_or_carries_a_file_is_refused(made):
    assert refused(made()) == "acting_file"


def test_a_link_on_a_page_and_a_place_to_open_at_are_no_reason_to_refuse():
    assert isinstance(files.letter_page(papers.pdf_with_open_action("[3 0 R /Fit]")), Taken)


def test_an_empty_file_and_one_over_ten_megabytes_are_refused():
    assert refused(b"") == "empty_file"
    assert refused(b"%PDF-" + bytes(files.MOST_BYTES)) == "too_big"


def test_a_letter_has_twenty_pages_at_most_and_all_of_it_fourteen_megabytes():
    assert files.together_reason([1] * 20, 20) is None
    assert files.together_reason([1] * 21, 21).code == "too_many_pages"
    assert files.together_reason([1], 21).code == "too_many_pages"
    assert files.together_reason([], 0).code == "no_file"
    assert files.together_reason([8_000_000, 8_000_000], 2).code == "too_big"


def test_a_pdf_has_twenty_pages_at_most_also_when_a_few_of_them_stand_for_a_billion():
    assert isinstance(files.letter_page(papers.pdf(pages=20)), Taken)
    assert refused(papers.pdf(pages=21)) == "too_many_pages"
    assert refused(papers.pdf_of_shared_pages(depth=3)) == "too_many_pages"
    assert refused(papers.pdf_of_shared_pages(depth=9)) == "broken_file"


def test_a_png_whose_hidden_text_unfolds_to_gigabytes_does_no_harm():
    text = zlib.compress(bytes(300_000_000), 9)
    chunk = b"zTXt" + b"k\x00\x00" + text
    piece = struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk))
    plain = papers.see_through_png()
    found = files.letter_page(plain[:33] + piece + plain[33:])
    assert isinstance(found, Reason) or b"zTXt" not in found.content


@given(
    st.sampled_from(["pdf", "jpeg", "png"]),
    st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), max_size=6),
    st.floats(0, 1),
)
def test_whatever_damage_a_file_has_the_answer_is_a_page_or_a_reason(kind, changes, cut):
    content = bytearray(papers.sample(kind))
    for place, value in changes:
        content[int(place * len(content))] = value
    found = files.letter_page(bytes(content[: max(1, int(cut * len(content)))]))
    assert isinstance(found, Taken | Reason)
