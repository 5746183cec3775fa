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
