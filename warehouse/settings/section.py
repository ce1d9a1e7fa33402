"""What every table of academy.toml has in common."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Section(BaseModel):
    """A table of academy.toml: unknown keys are faults, so that a typing error is never a silent default."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)
