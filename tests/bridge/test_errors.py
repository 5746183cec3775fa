"""The error tree."""

import pytest

from bridge import errors


@pytest.mark.parametrize("kind", [errors.UnknownThing, errors.BadFile, errors.BadValue, errors.PortNotUsable])
def test_what_the_user_got_wrong_leaves_with_2(kind):
    """Each error of the request carries exit code 2."""
    assert kind("x").exit_code == 2


@pytest.mark.parametrize(
    "kind", [errors.PortLost, errors.DiskTrouble, errors.WireTooNew, errors.InternalError]
)
def test_what_the_world_or_we_got_wrong_leaves_with_1(kind):
    """Each error of the world, and our own, carries exit code 1."""
    assert kind("x").exit_code == 1


def test_every_error_stands_in_the_drawn_tree():
    """No class is missing from the tree in the module's docstring."""
    classes = [n for n, v in vars(errors).items() if isinstance(v, type) and issubclass(v, Exception)]

    assert all(name in errors.__doc__ for name in classes)


def test_the_nearest_word_is_offered():
    """A misspelt word gets the nearest known one, a strange one gets the list."""
    assert errors.nearest("lamda", ["lambda", "egt"]) == "; did you mean 'lambda'?"
    assert errors.nearest("xyz", ["lambda", "egt"]) == "; there is egt, lambda"
    assert errors.nearest("xyz", []) == ""


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\x1b[31mred", r"a\x1b[31mred"),
        ("a\nb\tc", r"a\nb\tc"),
        ("a\u202eb\u2028", r"a\u202eb\u2028"),
        ("a\x9bb\udc80", r"a\x9bb\udc80"),
        ("λ 5 µm °C 日本 🏍️\u00a0x", "λ 5 µm °C 日本 🏍️\u00a0x"),
    ],
)
def test_a_printed_text_moves_no_terminal(text, shown):
    """What a terminal would obey is written as its escape, and every letter to see stays as it is."""
    assert errors.printable(text) == shown
    assert errors.printable(shown) == shown
