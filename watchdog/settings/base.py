"""What every table of the settings has in common."""

from pydantic import BaseModel, ConfigDict


class Model(BaseModel):
    """A table: unknown names are mistakes, numbers are finite, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True)
