"""The common ground of the files that a tuner writes: frozen, and no unknown key."""

from pydantic import BaseModel, ConfigDict


class FileModel(BaseModel):
    """A table of a TOML file. An unknown key is refused, a value is never changed after reading."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
