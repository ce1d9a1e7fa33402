"""The invented academy written once for all tests here, and a small reader that knows only profiles, not the writer."""

from __future__ import annotations

import functools
import gzip
import json
import tomllib
from dataclasses import dataclass
from pathlib import Path

import polars as pl
import pytest

from demo_data.generate import write_academy

IN_UNIT = {"m/s": 1, "km/h": 1 / 3.6, "mph": 0.44704, "ft/s": 0.3048, "m": 1, "yd": 0.9144, "deg": 1, "rpm": 1,
           "mm": 1, "cm": 10, "in": 25.4}  # fmt: skip
OTHER_WAY = ("left", "down", "heel", "low")


@dataclass(frozen=True)
class Academy:
    """One written academy: where it lies, and its tables as text."""

    landing: Path

    @functools.cache  # noqa: B019 - a few academies, for one test run
    def table(self, name: str) -> pl.DataFrame:
        return pl.read_csv(self.landing / "academy" / f"{name}.csv", infer_schema=False)

    def truth(self, name: str) -> pl.DataFrame:
        return pl.read_csv(
            self.landing.parent / "planted_truth" / f"{name}.csv",
            infer_schema_length=None,
            schema_overrides={
                "student_id": pl.String, "bay_id": pl.String, "lesson_id": pl.String, "night": pl.String,
                "refused": pl.String, "arrives_after": pl.String,
            },
        )  # fmt: skip

    @functools.cache  # noqa: B019
    def profile(self, bay_id: str) -> dict:
        name = self.table("bays").filter(pl.col("bay_id") == bay_id)["export_profile"][0]
        return tomllib.loads((self.landing / "profiles" / f"{name}.toml").read_text(encoding="utf-8"))

    @functools.cache  # noqa: B019
    def zone(self, bay_id: str) -> str:
        both = self.table("bays").join(self.table("sites"), on="site_id")
        return both.filter(pl.col("bay_id") == bay_id)["timezone"][0]

    def rows(self, path: Path) -> pl.DataFrame:
        """A file's rows as text under the device's own headers."""
        file = self.profile(path.name.split(".")[0])["file"]
        if file["format"] == "parquet":
            return pl.read_parquet(path).with_columns(pl.all().cast(pl.String))
        content = path.read_bytes()
        if file["format"] == "jsonl":
            shots = [json.loads(line) for line in content.decode().splitlines()]
            return pl.DataFrame([{k: None if v is None else str(v) for k, v in s.items()} for s in shots],
                                infer_schema_length=None)  # fmt: skip
        plain = gzip.decompress(content) if path.name.endswith(".gz") else content
        return pl.read_csv(plain.decode(file["encoding"]).lstrip("\ufeff").encode(), separator=file["delimiter"],
                           skip_rows=file["skip_rows"], infer_schema=False, null_values=file["nulls"])  # fmt: skip

    def shots(self, path: Path) -> pl.DataFrame:
        """A file's rows in canonical columns and units, struck_at local to the site."""
        bay = path.name.split(".")[0]
        profile, zone = self.profile(bay), self.zone(bay)
        file, chosen = profile["file"], []
        for name, source in profile["columns"].items():
            value = pl.col(source["from"])
            if name == "club":
                value = value.replace(source.get("map", {}))
            elif name == "struck_at":
                shape = file.get("timestamp_format", "%Y-%m-%d %H:%M:%S%.f")
                there = value.str.to_datetime(shape, time_unit="us")
                there = there.dt.replace_time_zone(zone if file["timezone"] == "site" else file["timezone"])
                value = there.dt.convert_time_zone(zone).dt.replace_time_zone(None)
            elif "unit" in source:
                number = value.str.replace(file.get("decimal", "."), ".", literal=True).cast(pl.Float64, strict=False)
                value = number * IN_UNIT[source["unit"]] * (-1 if source.get("positive") in OTHER_WAY else 1)
            chosen.append(value.alias(name))
        return self.rows(path).select(chosen).with_columns(
            pl.lit(bay).alias("bay_id"), pl.lit(path.parent.name).alias("night"))  # fmt: skip

    def sound_files(self) -> list[Path]:
        """Files of the first delivery that nothing refuses."""
        sound = self.truth("files").filter((pl.col("delivery") == "first") & pl.col("refused").is_null())
        return [self.landing / "shots" / path for path in sound["path"]]

    def all_shots(self) -> pl.DataFrame:
        """Every plausible shot, right-handed signs as the bays give them."""
        shots = pl.concat([self.shots(path) for path in self.sound_files()], how="diagonal")
        return shots.filter(pl.col("ball_speed") < 100)


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> Academy:
    landing = tmp_path_factory.mktemp("small") / "landing"
    write_academy(landing, small=True)
    return Academy(landing)


@pytest.fixture(scope="session")
def full(tmp_path_factory: pytest.TempPathFactory) -> Academy:
    landing = tmp_path_factory.mktemp("full") / "landing"
    write_academy(landing)
    return Academy(landing)


@pytest.fixture(scope="session")
def full_shots(full: Academy) -> pl.DataFrame:
    return full.all_shots()
