"""How much one file that arrives, and one query that is written whole, may ask of the machine."""

from __future__ import annotations

from pydantic import Field

from warehouse.settings.section import Section


class Limits(Section):
    """What an export may be and lose at most, and how much memory the database may take."""

    file_megabytes: int = Field(2048, ge=1, le=1_000_000, description="size of one export, unpacked, MB")
    line_characters: int = Field(65_536, ge=200, le=100_000_000, description="length of one line")
    compression_ratio: int = Field(200, ge=2, le=1_000_000, description="unpacked size over packed size")
    columns: int = Field(2000, ge=20, le=100_000, description="columns of one export")
    file_seconds: float = Field(120, gt=0, le=86_400, description="time that reading one export may take, s")
    first_year: int = Field(2000, ge=1900, le=2100, description="exports of nights before this year are refused")
    lost_share: float = Field(0.5, ge=0, le=1, description="a file that would lose more of its rows is refused whole")
    smaller_delivery_share: float = Field(
        0.8, ge=0, le=1, description="a later file that would load less than this share of the one before waits"
    )
    database_gigabytes: float = Field(1.5, ge=0.5, description="memory of the night's database; fits come on top")


class Exports(Section):
    """What `academy sql --csv, --json and --parquet` write at most; a cut is said."""

    rows: int = Field(100_000_000, ge=1, le=10**12, description="rows of one query")
    megabytes: int = Field(10_000, ge=1, le=10_000_000, description="size of its rows on their way, MB")
    seconds: float = Field(1800, gt=0, le=86_400, description="time that it may take, s")
    memory_megabytes: int = Field(2048, ge=256, le=1_000_000, description="memory that it may take, MB")
