"""What a camera's file holds, checked on reading: apart, since pydantic is slow to load and few runs need it."""

from __future__ import annotations

from pydantic import BaseModel, Field, ValidationError


class StoredCamera(BaseModel):
    """The file's JSON, checked on reading."""

    schema_: str = Field(alias="schema")
    width_px: int = Field(gt=0)
    height_px: int = Field(gt=0)
    camera: str
    parameters: list[str]
    mean: list[float]
    covariance: list[list[float]]
    shots: list[tuple[str, str]]
    rms_px: float
    reach: float
    tilt_spread_deg: float


def parsed(text: str) -> StoredCamera:
    """The file's text as checked values. Raises ValueError that names what is wrong."""
    try:
        return StoredCamera.model_validate_json(text)
    except ValidationError as error:
        where = ".".join(str(part) for part in error.errors()[0]["loc"]) or "the file"
        raise ValueError(f"{where}: {error.errors()[0]['msg']}") from error
