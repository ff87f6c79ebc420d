"""Anybody is found by any part of the name, however it is written, by the phone's digits, and by the address."""

import pytest

from clients import queries
from tests import make_clients as make

pytestmark = pytest.mark.django_db
# Invented names in many scripts, each with what a person at the desk might type.
TYPED = [
    ("Işıl Yıldız", ["isil", "ISIL", "ışıl", "yildiz", "IŞIL YILDIZ"]),
    ("İdil Çınar", ["idil", "İDİL", "cinar"]),
    ("Łucja Żółć", ["lucja", "ŁUCJA", "zolc", "żółć"]),
    ("Søren Bjørn Æsk", ["soren", "bjorn", "aesk", "SØREN"]),
    ("Jürgen Weißgroß", ["jurgen", "weissgross", "WEISSGROSS", "weiß"]),
    ("Nguyễn Thị Đào", ["nguyen", "thi dao", "đào", "dao"]),
    ("Юлия Ёлкина-Щукина", ["юлия", "елкина", "ЩУКИНА"]),
    ("王小明", ["小明", "王"]),
    ("さくら ゆづき", ["さくら", "ゆづ"]),
    ("أَحْمَد الزَّيْن", ["احمد", "الزين", "أحمد"]),
    ("שִׁירָה לֵב", ["שירה", "לב"]),
    ("Zoë Cœur-D’Épée", ["zoe", "coeur", "d’epee", "EPEE"]),
    ("Ⓐnna Ｗide", ["anna", "wide"]),
]


@pytest.mark.parametrize(("name", "typed"), TYPED, ids=[name for name, _ in TYPED])
def test_a_name_is_found_by_any_part_of_it_with_or_without_its_marks(name, typed):
    make.client("Somebody Other")
    wanted = make.client(name)
    for text in typed:
        assert [row.id for row in queries.find(text)] == [wanted.pk], text


@pytest.mark.parametrize("text", ["960123", "1632 960", "+44 (1632) 960-123", "0123"[1:]])
def test_a_phone_is_found_by_its_digits_however_they_are_grouped(text):
    make.client("Somebody Other", phone="+44 1632 555555")
    wanted = make.client("Ruvena Tarnelow", phone="+44 (0)1632-960 123".replace("(0)", ""))
    assert [row.id for row in queries.find(text)] == [wanted.pk]


def test_an_address_is_found_by_any_part_of_it_in_any_case():
    wanted = make.client(email="Ruvena.T@mail.example")
    for text in ("ruvena.t@", "MAIL.EX", "t@mail"):
        assert [row.id for row in queries.find(text)] == [wanted.pk]


@pytest.mark.parametrize("text", ["%", "_", "\\", "a%b", "\x00", "   ", "'", "(.*"])
def test_signs_that_mean_something_to_a_database_mean_nothing_here(text):
    make.client("Ruvena Tarnelow", phone="+44 1632 960123")
    assert queries.find(text) == []
