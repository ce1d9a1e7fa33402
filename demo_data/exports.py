"""Shots as the bays' own files: one file a bay and night, in that bay's format, language, units and clock."""

from __future__ import annotations

import gzip
import io
from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from demo_data.academy import CLUBS
from demo_data.profiles import NO_SUCH_CLUB, PER_UNIT, Profile


@dataclass
class Export:
    """One file as bytes; `path` is relative to the shots folder."""

    night: str
    bay_id: str
    path: str
    content: bytes
    rows: int


def _device_time(profile: Profile, zone: str) -> pl.Expr:
    utc = pl.col("struck_utc").dt.replace_time_zone("UTC")
    there = utc.dt.convert_time_zone(zone if profile.timezone == "site" else profile.timezone)
    if not profile.timestamp_format:
        return there.dt.replace_time_zone(None).alias(profile.time_header)
    return there.dt.strftime(profile.timestamp_format).alias(profile.time_header)


def device_frame(shots: pl.DataFrame, profile: Profile, zone: str) -> pl.DataFrame:
    """Return shots of one site and profile under the device's headers, in its units, signs, words and clock.

    Parameters
    ----------
    shots : DataFrame
        Canonical columns, `struck_utc` (naive UTC datetimes), `student_id` (empty text for nobody), `club` (number,
        -1: a club no profile knows).
    zone : str
        IANA name of the site.
    """
    words = dict(enumerate(profile.clubs or [club for club, _ in CLUBS])) | {-1: NO_SUCH_CLUB}
    chosen = [_device_time(profile, zone)]
    if profile.student_header:
        chosen.append(pl.col("student_id").replace("", None).alias(profile.student_header))
    chosen.append(pl.col("club").replace_strict(words, return_dtype=pl.String).alias(profile.club_header))
    for column in profile.columns:
        value = (pl.col(column.metric) * (column.sign / PER_UNIT[column.unit])).round(column.decimals) + 0.0
        value = value.fill_nan(None)
        chosen.append((value.cast(pl.Int64) if column.decimals == 0 else value).alias(column.header))
    return shots.select(chosen)


def as_bytes(frame: pl.DataFrame, profile: Profile) -> bytes:
    """Return one file's content; the same frame gives the same bytes."""
    buffer = io.BytesIO()
    if profile.file_format == "parquet":
        frame.write_parquet(buffer, compression="zstd")
        return buffer.getvalue()
    if profile.file_format == "jsonl":
        frame.write_ndjson(buffer)
        return buffer.getvalue()
    frame.write_csv(buffer, separator=profile.delimiter, null_value=profile.null,
                    decimal_comma=profile.decimal == ",")  # fmt: skip
    text = "".join(line + "\n" for line in profile.preamble).encode(profile.encoding)
    body = buffer.getvalue()
    text += body if profile.encoding == "utf-8" else body.decode("utf-8").encode(profile.encoding)
    return gzip.compress(text, 6, mtime=0) if profile.suffix.endswith(".gz") else text


def write_exports(shots: pl.DataFrame, profile: Profile, zone: str) -> Iterator[Export]:
    """Yield the files of one site's bays with one profile; `shots` also holds `night` and `bay_id`, sorted by them."""
    device = device_frame(shots, profile, zone)
    runs = shots.select(pl.struct("night", "bay_id").rle().alias("run")).unnest("run")
    start = 0
    for length, key in zip(runs["len"].to_list(), runs["value"].to_list(), strict=True):
        content = as_bytes(device.slice(start, length), profile)
        name = f"{key['night']}/{key['bay_id']}.{profile.suffix}"
        yield Export(key["night"], key["bay_id"], name, content, length)
        start += length
