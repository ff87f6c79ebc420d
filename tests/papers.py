"""Real files for tests: letters made by typst, photographs with a place in them, and what only looks like one."""

import io
import struct
import tempfile
import zlib
from functools import cache
from pathlib import Path

import typst
from PIL import Image
from pypdf import PdfWriter

GPS = 0x8825
MAKE = 0x010F
ORIENTATION = 0x0112
DEVICE = b"Lanternworks tablet"


@cache
def pdf(words: str = "Light work is well; please leave turning out.", pages: int = 1) -> bytes:
    """A letter of a clinician as a PDF."""
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "letter.typ"
        page.write_text("\n#pagebreak()\n".join([words] * pages))
        return bytes(typst.compile(str(page)))


def pdf_with_open_action(action: str) -> bytes:
    """The smallest PDF, written by hand, that does this when it is opened."""
    objects = [
        f"<< /Type /Catalog /Pages 2 0 R /OpenAction {action} >>",
        "<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 200 200] >>",
    ]
    return _from(objects)


def pdf_of_shared_pages(depth: int) -> bytes:
    """A tree of pages in which each level names the next ten times: ten to the power of `depth` pages."""
    levels = [
        f"<< /Type /Pages /Kids [{' '.join([f'{level} 0 R'] * 10)}] /Count 10 >>" for level in range(3, 3 + depth)
    ]
    return _from(["<< /Type /Catalog /Pages 2 0 R >>", *levels, "<< /Type /Page /MediaBox [0 0 9 9] >>"])


def _from(objects: list[str]) -> bytes:
    """A PDF of these objects, the first its catalogue."""
    body, places = "%PDF-1.4\n", []
    for number, text in enumerate(objects, 1):
        places.append(len(body))
        body += f"{number} 0 obj\n{text}\nendobj\n"
    table = "".join(f"{place:010d} 00000 n \n" for place in places)
    size = len(objects) + 1
    end = f"xref\n0 {size}\n0000000000 65535 f \n{table}trailer\n<< /Size {size} /Root 1 0 R >>\n"
    return f"{body}{end}startxref\n{len(body)}\n%%EOF\n".encode()


def written(writer: PdfWriter) -> bytes:
    made = io.BytesIO()
    writer.write(made)
    return made.getvalue()


def photograph(width: int, height: int, *, turned: bool = False, marked_middle: bool = False) -> bytes:
    """A JPEG as a tablet takes it: with the device, the place and which side is up in its metadata."""
    picture = Image.new("RGB", (width, height), "#c8d0d8")
    if marked_middle:
        picture.paste("#e01010", (width // 2 - 80, height // 2 - 80, width // 2 + 80, height // 2 + 80))
    told = Image.Exif()
    told[MAKE] = DEVICE.decode()
    if turned:
        told[ORIENTATION] = 6
    told[GPS] = {1: "N", 2: (38.0, 42.0, 12.5), 3: "W", 4: (9.0, 8.0, 20.0)}
    made = io.BytesIO()
    picture.save(made, "JPEG", exif=told, quality=80)
    return made.getvalue()


def see_through_png() -> bytes:
    made = io.BytesIO()
    Image.new("RGBA", (40, 30), (0, 0, 0, 0)).save(made, "PNG")
    return made.getvalue()


def png_bomb(width: int, height: int) -> bytes:
    """One even grey, one bit a dot: few bytes for any number of dots."""
    packer = zlib.compressobj(9)
    row = bytes(1 + (width + 7) // 8)
    packed = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + _piece(b"IHDR", head) + _piece(b"IDAT", packed) + _piece(b"IEND", b"")


@cache
def sample(kind: str) -> bytes:
    if kind == "pdf":
        return pdf()
    return photograph(60, 40) if kind == "jpeg" else see_through_png()


def _piece(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
