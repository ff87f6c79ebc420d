"""The walk along the machine: what to hook, what to unhook, and how the bar then looks."""

from hypothesis import given
from hypothesis import strategies as st

from programming.rules.sheet import hooks, settings
from programming.rules.springs import SpringSet
from studio.rules import ApparatusKind

REFORMER, TOWER, MAT = ApparatusKind.REFORMER, ApparatusKind.TOWER, ApparatusKind.MAT
sets = st.builds(SpringSet, st.integers(0, 3), st.integers(0, 3), st.integers(0, 3))


def words(*lines, inventory="HHMML"):
    return [one.words for one in settings(lines, SpringSet.of(inventory))]


def test_a_step_down_names_the_class_to_unhook():
    """Stomach massage 4-3-2-2 on HHMML: HMML, HML, HL, HL (programs, section 7)."""
    walk = [(REFORMER, SpringSet.of(letters)) for letters in ("HMML", "HML", "HL", "HL")]
    assert words(*walk) == [
        "Hook one heavy, two medium and one light",
        "Unhook one medium",
        "Unhook one medium",
        "Springs stay",
    ]


def test_a_machine_keeps_the_springs_it_was_left_with_while_another_is_used():
    walk = [(REFORMER, SpringSet.of("HM")), (TOWER, SpringSet.of("LL")), (REFORMER, SpringSet.of("H"))]
    assert words(*walk) == ["Hook one heavy and one medium", "Hook two light", "Unhook one medium"]


def test_a_mat_has_no_springs_and_no_bar():
    (setting,) = settings([(MAT, None)], SpringSet.of("HHMML"))
    assert (setting.words, setting.hooks) == ("No springs", ())


def test_the_bar_shows_every_spring_of_the_machine():
    drawn = hooks(SpringSet.of("HHMML"), SpringSet.of("HML"), SpringSet.of("HMM"))
    assert [(hook.letter, hook.state) for hook in drawn] == [
        ("H", "on"),
        ("H", "off"),
        ("M", "on"),
        ("M", "hook"),
        ("L", "unhook"),
    ]


@given(before=sets, after=sets)
def test_what_is_on_and_to_hook_is_the_set_asked_for(before, after):
    drawn = hooks(SpringSet(3, 3, 3), before, after)
    wanted = "".join(hook.letter for hook in drawn if hook.state in ("on", "hook"))
    had = "".join(hook.letter for hook in drawn if hook.state in ("on", "unhook"))
    assert (wanted, had, len(drawn)) == (after.letters, before.letters, 9)
