"""Pictures for the demo studio, drawn here so that nobody real is on them: faces for cards, and a letter."""

import io
from math import cos, sin
from random import Random

from PIL import Image, ImageDraw, ImageFont

FACE = 320
PAGE = (900, 1270)
PAPER, INK, PALE = (250, 248, 243), (45, 48, 54), (196, 196, 192)
GROUNDS = ((222, 214, 200), (203, 214, 209), (214, 206, 217), (226, 211, 203), (206, 212, 222))
SKINS = ((240, 208, 180), (222, 178, 144), (190, 140, 104), (141, 97, 68), (98, 66, 48))
HAIRS = ((52, 42, 38), (96, 66, 44), (156, 112, 66), (186, 186, 184), (122, 52, 36))
CLOTHES = ((58, 82, 96), (120, 74, 70), (74, 96, 72), (112, 104, 84), (84, 74, 110))


def face(seed: str) -> bytes:
    """A square JPEG of somebody who is not there; the same for the same seed."""
    chance = Random(f"{seed}:face")
    skin, hair = chance.choice(SKINS), chance.choice(HAIRS)
    picture = Image.new("RGB", (FACE, FACE), chance.choice(GROUNDS))
    pen = ImageDraw.Draw(picture)
    length = chance.randint(150, 230)
    pen.rounded_rectangle((92, 58, 228, length), 66, fill=hair)
    pen.rounded_rectangle((136, 170, 184, 250), 22, fill=skin)
    pen.ellipse((48, 232, 272, 440), fill=chance.choice(CLOTHES))
    pen.ellipse((108, 78, 212, 214), fill=skin)
    pen.chord((104, 66, 216, 170 + chance.randint(-30, 6)), 180, 360, fill=hair)
    for at in (140, 180):
        pen.ellipse((at - 5, 140, at + 5, 150), fill=INK)
    pen.arc((140, 160, 180, 188), 20, 160, fill=(140, 70, 62), width=4)
    return _jpeg(picture)


def letter(*, lines: list[str]) -> bytes:
    """A page as it comes from a practice, photographed: a JPEG with these lines on it."""
    page = Image.new("RGB", PAGE, PAPER)
    pen = ImageDraw.Draw(page)
    pen.line((80, 150, PAGE[0] - 80, 150), fill=PALE, width=3)
    for number, line in enumerate(lines):
        pen.text((80, 90 if number == 0 else 170 + 52 * number), line, fill=INK, font=ImageFont.load_default(28))
    below = 240 + 52 * len(lines)
    wave = [(80 + at * 4, below + 26 * sin(at / 3.1) * cos(at / 11)) for at in range(80)]
    pen.line(wave, fill=INK, width=3, joint="curve")
    return _jpeg(page)


def _jpeg(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=80)
    return out.getvalue()
