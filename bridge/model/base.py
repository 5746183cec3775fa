"""The common ground of the files that a tuner writes: frozen, no unknown key, each value of its own type."""

from collections.abc import Callable
from functools import partial
from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict

from bridge.errors import RequestError
from bridge.model.words import check_words

Value = TypeVar("Value")


class FileModel(BaseModel):
    """A table of a TOML file. An unknown key is refused, a value is never changed after reading.

    ``"2"`` and ``true`` are no numbers; a whole number is taken where any number will do.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=True)


def checked(check: Callable[[Any], object]) -> AfterValidator:
    """Let a table complain in the words of a check of ours.

    Args:
        check: raises a RequestError on a value that cannot stand.
    """

    def run(value: Value) -> Value:
        try:
            check(value)
        except RequestError as error:
            raise ValueError(str(error)) from None
        return value

    return AfterValidator(run)


def _words(kind: str) -> AfterValidator:
    return checked(partial(check_words, kind))


BikeName = Annotated[str, _words("bike's name")]
PlugType = Annotated[str, _words("plug type")]
Gearing = Annotated[str, _words("gearing")]
NoteText = Annotated[str, _words("note")]
