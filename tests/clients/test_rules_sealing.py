"""Sealed words open only with their key, in their place, and unchanged."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules import sealing
from clients.rules.sealing import SealBroken

KEY, MASTER = bytes(range(32)), bytes(range(32, 64))
PLACE = sealing.bound_to("clients_healthform", "sealed_answers", "1b4e28ba")


@given(st.text(alphabet=st.characters(exclude_categories=["Cs"])))
def test_what_is_sealed_comes_back_as_it_was(words):
    assert sealing.unseal(KEY, sealing.seal(KEY, words, PLACE), PLACE) == words


def test_the_same_words_never_look_the_same_and_are_not_in_the_blob():
    first, second = sealing.seal(KEY, "left wrist", PLACE), sealing.seal(KEY, "left wrist", PLACE)
    assert first != second
    assert b"wrist" not in first


@given(st.integers(0, 10_000), st.integers(1, 255))
def test_a_blob_changed_anywhere_does_not_open(at, by):
    blob = bytearray(sealing.seal(KEY, "left wrist", PLACE))
    blob[at % len(blob)] ^= by
    with pytest.raises(SealBroken):
        sealing.unseal(KEY, bytes(blob), PLACE)


@pytest.mark.parametrize(
    "place",
    [
        sealing.bound_to("clients_healthform", "sealed_answers", "another row"),
        sealing.bound_to("clients_healthform", "another_column", "1b4e28ba"),
        sealing.bound_to("another_table", "sealed_answers", "1b4e28ba"),
    ],
)
def test_a_blob_moved_to_another_cell_does_not_open(place):
    with pytest.raises(SealBroken):
        sealing.unseal(KEY, sealing.seal(KEY, "left wrist", PLACE), place)


def test_another_key_does_not_open_it():
    with pytest.raises(SealBroken, match="another key"):
        sealing.unseal(MASTER, sealing.seal(KEY, "left wrist", PLACE), PLACE)


@pytest.mark.parametrize("blob", [b"", b"\x01", b"\x00" * 40])
def test_what_was_never_sealed_does_not_open(blob):
    with pytest.raises(SealBroken):
        sealing.unseal(KEY, blob, PLACE)


def test_a_data_key_is_wrapped_by_the_master_key_and_bound_as_well():
    data_key = sealing.new_data_key()
    wrapped = sealing.wrap(data_key, MASTER, PLACE)
    assert sealing.unwrap(wrapped, MASTER, PLACE) == data_key
    assert data_key not in wrapped
    for master, place in ((KEY, PLACE), (MASTER, PLACE + "x")):
        with pytest.raises(SealBroken):
            sealing.unwrap(wrapped, master, place)


def test_words_are_not_taken_for_a_key():
    with pytest.raises(SealBroken, match="not a key"):
        sealing.unwrap(sealing.seal(MASTER, "short", PLACE), MASTER, PLACE)


def test_a_key_of_the_wrong_length_is_refused():
    with pytest.raises(ValueError, match="32 bytes"):
        sealing.seal(b"short", "left wrist", PLACE)
    with pytest.raises(ValueError, match="32 bytes"):
        sealing.wrap(b"short", MASTER, PLACE)


def test_parts_of_a_place_cannot_run_into_each_other():
    with pytest.raises(ValueError, match="may not hold"):
        sealing.bound_to("a|b", "c", 1)
