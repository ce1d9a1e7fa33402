"""What a home past one machine sets: its catalog, where its rows lie, how many runs at once."""

from __future__ import annotations

from pydantic import Field, field_validator

from warehouse.settings.section import Section


class Lakehouse(Section):
    """Past one machine: nights on DuckLake, several sites at once; empty catalog: everything in this folder."""

    catalog: str = Field(
        "", description="postgresql://user@host/database (password: PGPASSWORD), or a file's path for trying it"
    )
    catalog_schema: str = Field(
        "academy", description="schema of the catalog in that database; one a home", pattern=r"^[a-z][a-z0-9_]{0,40}$"
    )
    data_path: str = Field(
        "lake", description="folder, or s3://bucket/folder (keys from the environment), where the Parquet files lie"
    )
    scratch: str = Field("", description="folder on a worker's own disk for its databases; empty: in this folder")
    workers: int = Field(4, ge=1, le=500, description="runs at once in Dagster's queue; one a site at most")
    runs: str = Field("", description="PostgreSQL URL of Dagster's own storage; empty: the catalog's database")
    keep_days: int = Field(7, ge=1, le=3650, description="days that old snapshots, and files only they name, are kept")
    patience_seconds: int = Field(300, ge=1, le=86_400, description="how long a catalog out of reach is waited for")

    @field_validator("catalog", "runs")
    @classmethod
    def no_password(cls, value: str) -> str:
        """Refuse a password in a file, and a server that is no PostgreSQL."""
        if "://" in value:
            kind, rest = value.split("://", 1)
            if kind != "postgresql":
                raise ValueError(f"{kind} cannot hold it: write postgresql://user@host/database")
            if "@" in rest and ":" in rest.rsplit("@", 1)[0]:
                raise ValueError("holds a password: take it out and set PGPASSWORD or PGPASSFILE")
        return value

    @property
    def on(self) -> bool:
        """Whether nights are kept on the lakehouse."""
        return bool(self.catalog)

    @property
    def shared(self) -> bool:
        """Whether the catalog is a server, so that several processes write at once."""
        return "://" in self.catalog
