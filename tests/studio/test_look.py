"""The look: strict policy kept by every template, marks that exist, weights and contrasts that hold."""

import gzip
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django import forms
from django.template import Context, Template
from django.template.loader import render_to_string

from studio.rules import Reason
from studio.templatetags import look

ROOT = Path(__file__).resolve().parents[2]
STATIC = ROOT / "studio" / "static" / "studio"
TEMPLATES = sorted(
    path
    for app in ("studio", "clients", "scheduling", "programming")
    for path in ROOT.glob(f"{app}/**/templates/**/*.html")
)
SCRIPTS = sorted(
    path for app in ("studio", "clients", "scheduling", "programming") for path in ROOT.glob(f"{app}/static/**/*.js")
)
SHEETS = {
    "desk": ["desk.css"],
    "floor": ["floor.css"],
    "office": ["office.css"],
    "intake": ["intake.css"],
    "front": ["front.css"],
}
KB = 1024


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


class Attributes(HTMLParser):
    """Collects what a strict content policy would refuse; template tags are removed first."""

    def __init__(self) -> None:
        super().__init__()
        self.refused: list[str] = []
        self.inside = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = dict(attrs)
        self.refused += [f"<{tag} {name}>" for name in names if name == "style" or re.match(r"on[a-z]+$|hx-on", name)]
        self.refused += [f"<{tag} {name}={value}>" for name, value in attrs if value and "javascript:" in value.lower()]
        self.inside = tag if tag == "style" or (tag == "script" and "src" not in names) else ""
        if tag == "style":
            self.refused.append("<style>")

    def handle_data(self, data: str) -> None:
        if self.inside == "script" and data.strip():
            self.refused.append("<script> with words in it")
        self.inside = ""


def refused_in(source: str) -> list[str]:
    parser = Attributes()
    parser.feed(re.sub(r"{%.*?%}|{{.*?}}|{#.*?#}", "", source, flags=re.S))
    return parser.refused


@pytest.mark.parametrize("bad", ['<p style="x">', '<a onclick="x">', "<script>x()</script>", "<style>p{}</style>"])
def test_the_policy_check_sees_what_it_is_for(bad: str):
    assert refused_in(bad)


@pytest.mark.parametrize("path", TEMPLATES, ids=named)
def test_no_template_has_inline_style_script_or_handler(path: Path):
    assert refused_in(path.read_text()) == []


@pytest.mark.parametrize("path", TEMPLATES, ids=named)
def test_every_mark_and_icon_named_in_a_template_exists(path: Path):
    source = path.read_text()
    marks = set(re.findall(r"{%\s*mark \"([^\"]+)\"", source))
    icons = set(re.findall(r"{%\s*icon \"([^\"]+)\"", source))
    assert marks <= look.MARKS.keys()
    assert icons <= look.MARKS.keys() | look.SHAPES


def test_the_sprite_draws_each_shape_once_and_no_other():
    sprite = (ROOT / "studio/templates/studio/_sprite.html").read_text()
    drawn = re.findall(r'<symbol id="i-([a-z-]+)"', sprite)
    assert sorted(drawn) == sorted(look.SHAPES)


def test_an_unknown_shape_or_voice_is_refused_loudly():
    with pytest.raises(LookupError):
        look.icon("unicorn")
    with pytest.raises(LookupError):
        look.mark("late", voice="gold")


# A mark stands for a state; two states that look and read alike could be told apart by colour alone.
def test_no_two_marks_share_both_their_shape_and_their_word():
    same = {"planned": "as_planned"}
    seen = {(mark.shape, mark.word) for name, mark in look.MARKS.items() if name not in same}
    assert len(seen) == len(look.MARKS) - len(same)


def packed(*paths: Path) -> int:
    return sum(len(gzip.compress(path.read_bytes(), 9)) for path in paths)


@pytest.mark.parametrize("page", SHEETS)
def test_a_page_loads_at_most_15_kb_of_compressed_css(page: str):
    sheets = [STATIC / name for name in ["tokens.css", "base.css", *SHEETS[page]]]
    assert packed(*sheets) <= 15 * KB


def test_a_page_with_htmx_and_the_largest_script_of_its_app_stays_within_25_kb():
    import django_htmx

    htmx = Path(django_htmx.__file__).parent / "static/django_htmx/htmx-2.min.js"
    own = packed(*(path for path in SCRIPTS if path.is_relative_to(STATIC)))
    others = [packed(path) for path in SCRIPTS if not path.is_relative_to(STATIC)]
    assert packed(htmx) + own + max(others, default=0) <= 25 * KB


# --- contrast: relative luminance and ratio as defined in WCAG 2.2; SC 1.4.3 asks 4.5 for text, SC 1.4.11 3 for edges
def luminance(colour: str) -> float:
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def tokens(theme: str) -> dict[str, str]:
    source = (STATIC / "tokens.css").read_text()
    light, dark = source.index(":root {"), source.index(':root[data-theme="dark"] {')
    end = source.index("@media (prefers-contrast")
    colours = dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6})", source[light:dark]))
    if theme == "dark":
        colours |= dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6})", source[dark:end]))
    return colours


GROUNDS = ("paper", "leaf", "shade")
INKS = ("ink", "ink-soft", "pine", "slate", "amber", "brick", "plum")
PAIRS = [
    *((ink, ground) for ink in INKS for ground in GROUNDS),
    *((voice, f"{voice}-wash") for voice in ("pine", "slate", "amber", "brick", "plum")),
    *(("ink", f"{voice}-wash") for voice in ("pine", "slate", "amber", "brick", "plum")),
    ("on-pine", "pine"),
    ("on-brick", "brick"),
    *(("ink", f"heat-{step}") for step in (1, 2, 3, 4)),
    *(("on-heat", f"heat-{step}") for step in (5, 6)),
]


def test_black_on_white_is_21_to_1():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.2, definition of contrast ratio


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("ink", "ground"), PAIRS, ids="-on-".join)
def test_text_stands_out_from_its_ground(theme: str, ink: str, ground: str):
    colours = tokens(theme)
    assert contrast(colours[ink], colours[ground]) >= 4.5


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", GROUNDS)
def test_the_edge_of_a_control_stands_out_from_its_ground(theme: str, ground: str):
    colours = tokens(theme)
    assert contrast(colours["rule"], colours[ground]) >= 3


# Prescribed by the design; a page that drifts from them is another house.
def test_the_voices_are_the_prescribed_ones():
    assert tokens("light") | {
        "paper": "#faf7f2",
        "ink": "#20262b",
        "pine": "#1f5d4e",
        "slate": "#2f5d8a",
        "amber": "#7a4d00",
        "amber-wash": "#fbeecf",
        "brick": "#9c3527",
        "plum": "#6b3a5b",
        "line": "#d9d2c6",
    } == tokens("light")


@pytest.mark.parametrize("path", sorted(STATIC.glob("*.css")), ids=named)
def test_colours_are_written_in_the_tokens_only(path: Path):
    if path.name != "tokens.css":
        assert re.findall(r"#[0-9a-fA-F]{3,8}\b(?![-\w)])", path.read_text()) == []


@pytest.mark.parametrize("path", sorted(STATIC.glob("*.css")), ids=named)
def test_each_custom_property_used_is_defined(path: Path):
    every = "".join(sheet.read_text() for sheet in STATIC.glob("*.css"))
    defined = set(re.findall(r"(--[a-z0-9-]+):", every))
    bare = set(re.findall(r"var\((--[a-z0-9-]+)\)", path.read_text()))
    assert bare - defined - {"--voice"} == set()


def test_the_licence_of_the_typeface_lies_beside_it():
    fonts = STATIC / "fonts"
    assert list(fonts.glob("*.woff2"))
    assert "SIL OPEN FONT LICENSE" in (fonts / "OFL.txt").read_text().upper()


# --- the pieces -------------------------------------------------------------------------------------------------------
class Guest(forms.Form):
    email = forms.EmailField(label="E-mail", help_text="We write once.")
    kind = forms.ChoiceField(choices=[("p", "private"), ("d", "duet")], widget=forms.RadioSelect)


def rendered(source: str, **context: object) -> str:
    return Template("{% load look %}" + source).render(Context(context))


def test_a_field_ties_its_help_and_its_error_to_the_control():
    html = rendered("{% field form.email %}", form=Guest({"email": "nope"}))
    assert 'aria-describedby="id_email_helptext id_email_error"' in html
    assert 'aria-invalid="true"' in html
    assert 'id="id_email_error"' in html and 'id="id_email_helptext"' in html


def test_a_field_without_error_says_nothing_of_one():
    html = rendered("{% field form.email %}", form=Guest())
    assert "aria-invalid" not in html and "_error" not in html


def test_choices_stand_in_a_fieldset_with_a_legend_and_one_label_each():
    html = rendered("{% field form.kind %}", form=Guest())
    assert "<fieldset" in html and "<legend>Kind" in html and html.count("<label") == 2


def test_the_summary_links_to_each_field_that_needs_a_look():
    form = Guest({})
    html = rendered('{% include "studio/_errors.html" %}{% field form.email %}{% field form.kind %}', form=form)
    for target in re.findall(r'<a href="#([^"]+)"', html.split("</section>")[0]):
        assert f'id="{target}"' in html


class Line:
    def __init__(self, start: float, width: float, strands: str, kind: str) -> None:
        self.start, self.width, self.strands, self.kind = start, width, strands, kind


def test_the_rail_hangs_one_strand_per_spring_and_leaves_the_left_out_hook_bare():
    lines = [
        Line(0, 10, "HML", "planned"),
        Line(10, 10, "M", "adapted"),
        Line(20, 0, "H", "left_out"),
        Line(20, 5, "", "planned"),
    ]
    html = rendered('{% rail lines minutes=50 told="Four lines" at=1 small=True %}', lines=lines)
    assert [len(re.findall(f'<line class="{weight}( gone)?"', html)) for weight in ("h", "m", "l", "mat")] == [
        1,
        2,
        1,
        1,
    ]
    assert html.count(" gone") == 3
    assert html.count('class="sleeve adapted"') == 1 and html.count('class="bare"') == 1
    assert 'aria-label="Four lines"' in html


def test_the_spring_bar_says_in_words_what_it_draws():
    hooks = [type("Hook", (), {"letter": letter, "state": state}) for letter, state in (("H", "on"), ("M", "unhook"))]
    assert "left to right: heavy on, medium to unhook." in rendered("{% springbar hooks %}", hooks=hooks)


def test_a_name_cannot_bring_markup_into_a_mark():
    assert "<b>" not in rendered('{% mark "late" name %}', name="<b>late</b>")


@pytest.mark.parametrize(("percent", "step"), [(0, "h0"), (24, "h1"), (25, "h2"), (64, "h3"), (91, "h5"), (100, "h6")])
def test_more_use_is_never_paler(percent: int, step: str):
    assert look.heat(percent) == step


# --- the pages that went wrong ----------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404", "413", "500"])
def test_a_page_that_went_wrong_needs_no_context_and_shows_a_way_back(name: str):
    html = render_to_string(f"{name}.html")
    assert "<h1>" in html and 'href="/"' in html


def test_a_refusal_says_each_reason_on_a_page_of_its_own_or_as_a_fragment(rf):
    reasons = [Reason("taken", "Reformer 3 is already taken."), Reason("hours", "The studio is shut then.")]
    for htmx in (True, False):
        request = rf.get("/")
        request.htmx = htmx
        # Rendered without the context processors, which would read the database.
        html = render_to_string("studio/refused.html", {"reasons": reasons, "request": request})
        assert all(reason.says in html for reason in reasons)
        assert ("<html" in html) is not htmx
