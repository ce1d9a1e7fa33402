"""Six invented kinds of export, as data: format, language, decimal mark, unit, sign, time zone, and what is missing.

Headers and club words are invented. Not here: writing files (exports.py).
"""

from __future__ import annotations

import json
from dataclasses import dataclass

PER_UNIT = {
    "m/s": 1.0, "km/h": 1 / 3.6, "mph": 0.44704, "ft/s": 0.3048, "m": 1.0, "yd": 0.9144, "deg": 1.0, "rpm": 1.0,
    "mm": 1.0, "cm": 10.0, "in": 25.4,
}  # fmt: skip
"""Canonical units in one of the device's (m/s, m, deg, rpm; mm for where the face was struck)."""

NO_SUCH_CLUB = "broomstick"


@dataclass(frozen=True)
class Column:
    """Where a canonical number stands in an export."""

    metric: str
    header: str
    unit: str
    decimals: int = 1
    positive: str = ""

    @property
    def sign(self) -> int:
        """-1 where the device counts the other way round."""
        return -1 if self.positive in ("left", "down", "heel", "low") else 1


@dataclass(frozen=True)
class Profile:
    """One kind of export. `clubs` are the device's words in the order of `academy.CLUBS`, empty: canonical words."""

    name: str
    suffix: str
    file_format: str
    time_header: str
    student_header: str
    club_header: str
    columns: tuple[Column, ...]
    clubs: tuple[str, ...] = ()
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    preamble: tuple[str, ...] = ()
    null: str = ""
    nulls: tuple[str, ...] = ("",)
    timestamp_format: str = ""
    timezone: str = "site"


KUESTE = Profile(
    "kueste", "csv", "csv", "Zeitpunkt", "Mitglied", "Schlägerwahl",
    (Column("club_speed", "Tempo Kopf", "km/h"), Column("attack_angle", "Steigung Kopf", "deg"),
     Column("club_path", "Zug seitlich", "deg", 1, "left"), Column("face_angle", "Blatt seitlich", "deg", 1, "left"),
     Column("dynamic_loft", "Loft am Ball", "deg"), Column("ball_speed", "Tempo Ball", "km/h"),
     Column("launch_angle", "Start steil", "deg"), Column("launch_direction", "Start seitlich", "deg", 1, "left"),
     Column("spin_rate", "Umdrehungen", "rpm", 0), Column("spin_axis", "Neigung Achse", "deg", 1, "left"),
     Column("carry", "Landeweite", "m"), Column("lateral", "Seitenlage", "m", 1, "left"),
     Column("impact_toe", "Treff Spitze", "mm"), Column("impact_high", "Treff oben", "mm")),
    ("Langholz", "Siebener Eisen", "Anspielkeil", "Vierer Mischling", "Neuner Eisen", "Dreier Holz", "Sandkeil"),
    delimiter=";", decimal=",", null="-", nulls=("", "-"), timestamp_format="%d.%m.%Y %H:%M:%S",
)  # fmt: skip

RIVAGE = Profile(
    "rivage", "tsv", "csv", "Instant", "Adhérent", "Crosse choisie",
    (Column("ball_speed", "Allure balle", "km/h"), Column("launch_angle", "Montée", "deg", 2),
     Column("launch_direction", "Cap", "deg", 2), Column("carry", "Vol porté", "m"),
     Column("lateral", "Décalage", "m", 1, "left"), Column("club_speed", "Allure tête", "km/h"),
     Column("attack_angle", "Pente d'arrivée", "deg", 2), Column("club_path", "Ligne de tête", "deg", 2),
     Column("face_angle", "Ligne de face", "deg", 2), Column("dynamic_loft", "Loft livré", "deg", 2),
     Column("impact_toe", "Côté pointe", "cm", 2), Column("impact_high", "Côté haut", "cm", 2)),
    ("grand bois", "fer sept", "cocheur court", "mixte quatre", "fer neuf", "bois trois", "cocheur de sable"),
    delimiter="\t", encoding="latin-1", null="néant", nulls=("", "néant"), timestamp_format="%Y-%m-%d %H:%M:%S",
)  # fmt: skip

POLDER = Profile(
    "polder", "csv.gz", "csv", "moment", "lid", "gekozen club",
    (Column("club_speed", "snelheid kop", "m/s", 2), Column("ball_speed", "snelheid bal", "m/s", 2),
     Column("attack_angle", "daling", "deg", 1, "down"), Column("club_path", "baan", "deg"),
     Column("face_angle", "blad", "deg"), Column("dynamic_loft", "geleverde loft", "deg"),
     Column("launch_angle", "stijging", "deg"), Column("launch_direction", "koers", "deg"),
     Column("spin_rate", "toeren", "rpm", 0), Column("spin_axis", "asstand", "deg"),
     Column("carry", "gedragen", "yd"), Column("lateral", "opzij", "yd"),
     Column("impact_toe", "teenkant", "mm"), Column("impact_high", "bovenkant", "mm")),
    ("lange houten", "ijzer zeven", "korte wig", "kruising vier", "ijzer negen", "hout drie", "zandwig"),
    preamble=("uitdraai van de oefenbaan", "soort: slagen; klok: wereldtijd"), null="n.b.", nulls=("", "n.b."),
    timestamp_format="%Y%m%dT%H%M%S", timezone="UTC",
)  # fmt: skip

PLAIN_SI = Profile(
    "plain-si", "parquet", "parquet", "struck", "person", "implement",
    (Column("club_speed", "head_speed", "m/s", 3), Column("attack_angle", "head_rise", "deg", 3),
     Column("club_path", "head_side", "deg", 3), Column("face_angle", "face_side", "deg", 3),
     Column("dynamic_loft", "face_rise", "deg", 3), Column("ball_speed", "ball_speed", "m/s", 3),
     Column("launch_angle", "ball_rise", "deg", 3), Column("launch_direction", "ball_side", "deg", 3),
     Column("spin_rate", "ball_turn", "rpm", 1), Column("spin_axis", "turn_tilt", "deg", 2),
     Column("carry", "landed_at", "m", 2), Column("lateral", "landed_side", "m", 2),
     Column("impact_toe", "struck_toe", "mm", 2), Column("impact_high", "struck_high", "mm", 2)),
    timezone="UTC",
)  # fmt: skip

ENSEADA = Profile(
    "enseada", "jsonl", "jsonl", "instante", "", "taco",
    (Column("ball_speed", "rapidez_da_bola", "ft/s"), Column("launch_angle", "subida", "deg"),
     Column("launch_direction", "rumo", "deg", 1, "left"), Column("spin_rate", "voltas", "rpm", 0),
     Column("spin_axis", "tombo_do_eixo", "deg", 1, "left"), Column("carry", "voo", "m"),
     Column("lateral", "fora_da_linha", "m", 1, "left")),
    ("pau grande", "ferro sete", "cunha curta", "misto quatro", "ferro nove", "pau três", "cunha de areia"),
    timestamp_format="%Y-%m-%dT%H:%M:%S", timezone="Europe/Helsinki",
)  # fmt: skip

YARDAGE = Profile(
    "yardage", "csv", "csv", "Struck on", "Member no", "Club in hand",
    (Column("ball_speed", "Ball mph", "mph"), Column("launch_angle", "Climb", "deg"),
     Column("launch_direction", "Start line", "deg"), Column("spin_rate", "Turns", "rpm", 0),
     Column("spin_axis", "Tilt", "deg"), Column("carry", "Flight yards", "yd"), Column("lateral", "Wide yards", "yd"),
     Column("club_speed", "Head mph", "mph"), Column("attack_angle", "Head rise", "deg"),
     Column("club_path", "Head travel", "deg"), Column("face_angle", "Face look", "deg"),
     Column("dynamic_loft", "Loft shown", "deg"), Column("impact_toe", "Heelward inches", "in", 2, "heel"),
     Column("impact_high", "Low inches", "in", 2, "low")),
    ("long one", "seven", "short wedge", "four cross", "nine", "three wood", "bunker wedge"),
    timestamp_format="%m/%d/%Y %I:%M:%S %p",
)  # fmt: skip

PROFILES = {p.name: p for p in (KUESTE, RIVAGE, POLDER, PLAIN_SI, ENSEADA, YARDAGE)}


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)


def profile_toml(profile: Profile, clubs: tuple[str, ...]) -> str:
    """Return the profile as TOML by the input contract; `clubs` are the canonical names in the profile's order."""
    lines = [f"name = {_text(profile.name)}", "", "[file]", f"format = {_text(profile.file_format)}"]
    if profile.file_format == "csv":
        lines += [f"delimiter = {_text(profile.delimiter)}", f"decimal = {_text(profile.decimal)}",
                  f"encoding = {_text(profile.encoding)}", f"skip_rows = {len(profile.preamble)}",
                  f"nulls = [{', '.join(_text(n) for n in profile.nulls)}]"]  # fmt: skip
    if profile.timestamp_format:
        lines.append(f"timestamp_format = {_text(profile.timestamp_format)}")
    lines += [f"timezone = {_text(profile.timezone)}", "", "[columns]",
              f"struck_at = {{ from = {_text(profile.time_header)} }}"]  # fmt: skip
    if profile.student_header:
        lines.append(f"student_id = {{ from = {_text(profile.student_header)}, optional = true }}")
    words = ", ".join(f"{_text(w)} = {_text(c)}" for w, c in zip(profile.clubs, clubs, strict=False))
    lines.append(f"club = {{ from = {_text(profile.club_header)}{f', map = {{ {words} }}' if words else ''} }}")
    for column in profile.columns:
        side = f", positive = {_text(column.positive)}" if column.positive else ""
        lines.append(f"{column.metric} = {{ from = {_text(column.header)}, unit = {_text(column.unit)}{side} }}")
    return "\n".join(lines) + "\n"
