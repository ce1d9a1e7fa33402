"""What an academy may set in academy.toml, with every default; the commented file is written from these fields."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Literal
from zoneinfo import available_timezones

from pydantic import Field, ValidationError, field_validator

from warehouse.schema.metrics import CLUB_GROUPS, METRIC
from warehouse.settings.faults import in_words
from warehouse.settings.lakehouse import Lakehouse
from warehouse.settings.limits import Exports, Limits
from warehouse.settings.section import Section
from warehouse.settings.site_zones import westernmost, zones_of_sites


class SettingsFault(ValueError):
    """academy.toml cannot be used; the message names the key and the remedy."""


class Academy(Section):
    """The academy itself."""

    name: str = Field("Academy", description="shown on pages and reviews")
    timezone: str = Field("UTC", description="IANA zone of the nightly run and of today; left out: that of sites.csv")
    nightly_at: str = Field(
        "02:30", description="local time of the nightly run, HH:MM", pattern=r"^([01]\d|2[0-3]):[0-5]\d$"
    )

    @field_validator("timezone")
    @classmethod
    def known_zone(cls, value: str) -> str:
        """Refuse a zone that the time zone database does not know."""
        if value not in available_timezones():
            raise ValueError(f"{value!r} is not an IANA time zone, such as 'Europe/Lisbon'")
        return value


class Units(Section):
    """How pages show numbers; tables are always in canonical units."""

    system: Literal["imperial", "metric"] = Field("imperial", description="imperial: mph and yd; metric: km/h and m")


class Episodes(Section):
    """How shots become blocks and episodes. Changing any of these builds every night again."""

    min_block_shots: int = Field(5, ge=3, le=1000, description="usable shots a block needs")
    mishit_share: float = Field(0.6, gt=0, lt=1, description="of the session's median ball speed; under it is a mishit")
    practice_gap_minutes: int = Field(45, ge=5, le=1440, description="a longer gap starts a new practice session")
    split_from: int = Field(6, ge=5, le=999, description="drill-free sessions are split after at least this many shots")
    split_to: int = Field(24, ge=6, le=1000, description="and at most this many")
    retention_days: int = Field(21, ge=1, le=3650, description="a next session later than this is no follow-up")


class Flight(Section):
    """The flight model's reachable delivery."""

    attack_high: dict[str, float] = Field(
        {"driver": 5.0}, description="highest attack angle taken as reachable by club group, deg; groups left out: none"
    )
    student_attack_high: dict[str, float] = Field(
        default_factory=dict, description="the same for single students, by student_id, deg"
    )
    range_ball_speed: float = Field(
        1.0, gt=0.8, le=1.0, description="ball speed of a range ball as a share of a premium one; 1: no correction"
    )


class Evidence(Section):
    """What evidence warns of, and when a large home makes it anew."""

    side_effect_warns_from: float = Field(0.05, gt=0, description="rise of the mishit or unmeasured share that warns")
    every_night_up_to_shots: int = Field(
        3_000_000, ge=0, description="up to this history evidence is made anew every night; past it, weekly at least"
    )
    renew_from_share: float = Field(
        0.05, ge=0, le=1, description="past it: as soon as this share of the history is new or changed"
    )


class Bay(Section):
    """One bay."""

    clock_ahead_seconds: float = Field(0, ge=-86400, le=86400, description="how far its clock runs ahead; taken off")
    air_density: float | None = Field(
        None, ge=0.7, le=1.4, description="kg/m^3 of the air its shots fly through; none: measured, or standard there"
    )
    numbers_checked: bool = Field(
        False, description="true: somebody looked at numbers that seemed impossible, and they are right"
    )


class Publishing(Section):
    """The published files."""

    keep_versions: int = Field(7, ge=2, le=1000, description="published versions kept, the current one among them")


class Notebook(Section):
    """Where what people enter is kept."""

    url: str = Field("", description="an SQLAlchemy URL; empty: notebook.sqlite in this folder")


class Alerts(Section):
    """Who is told when a night fails, a bay is late or nothing is published."""

    command: list[str] = Field(
        default_factory=list, description="a program and its arguments, given a JSON on standard input; empty: nobody"
    )
    webhook: str = Field(
        "",
        description="an address that gets the same JSON by POST, https://… ; empty: none",
        pattern=r"^(https?://\S+)?$",
    )
    timeout_seconds: int = Field(30, ge=1, le=600, description="after which program or address is given up")
    silent_hours: int = Field(26, ge=1, description="without a publication, after which `academy doctor --alert` tells")

    @property
    def somebody(self) -> bool:
        """Whether anybody is told."""
        return bool(self.command or self.webhook)


class Retention(Section):
    """How long raw shots are kept in the private database; what is published keeps every night."""

    raw_nights: int = Field(0, ge=0, le=100_000, description="latest nights whose raw shots are kept; 0: all")


class Access(Section):
    """Who sees which pages, by the login's verified e-mail or its subject; without a login, on this machine: all."""

    administrators: list[str] = Field(default_factory=list, description="every page, and how to take a person out")
    directors: list[str] = Field(default_factory=list, description="every page")
    coaches: dict[str, str] = Field(
        default_factory=dict, description="every page but SQL, own students first: { e-mail = coach_id }, e-mail quoted"
    )
    analysts: list[str] = Field(default_factory=list, description="every page of numbers, ids in place of names")
    front_office: list[str] = Field(default_factory=list, description="bays and files")
    hosts: list[str] = Field(default_factory=list, description="names of this machine under which pages are opened")
    idle_minutes: int = Field(60, ge=1, le=1440, description="without a tap, after which a login ends")


class Settings(Section):
    """The whole of academy.toml."""

    academy: Academy = Academy()
    units: Units = Units()
    episodes: Episodes = Episodes()
    flight: Flight = Flight()
    evidence: Evidence = Evidence()
    publishing: Publishing = Publishing()
    limits: Limits = Limits()
    exports: Exports = Exports()
    notebook: Notebook = Notebook()
    alerts: Alerts = Alerts()
    retention: Retention = Retention()
    lakehouse: Lakehouse = Lakehouse()
    access: Access = Access()
    matters: dict[str, float | dict[str, float]] = Field(
        default_factory=dict, description="smallest change that matters: a metric's, or by club group"
    )
    bays: dict[str, Bay] = Field(default_factory=dict, description="one table a bay that needs one")

    @field_validator("matters")
    @classmethod
    def known_metrics(cls, value: dict) -> dict:
        """Refuse metrics, club groups and sizes that do not exist."""
        for metric, size in value.items():
            if metric not in METRIC:
                raise ValueError(f"{metric!r} is not a metric: one of {', '.join(METRIC)}")
            groups = size if isinstance(size, dict) else {"driver": size}
            for group, number in groups.items():
                if group not in CLUB_GROUPS:
                    raise ValueError(f"{metric}: {group!r} is not a club group: one of {', '.join(CLUB_GROUPS)}")
                if number <= 0:
                    raise ValueError(f"{metric}: {number} is not above zero")
        return value

    def set_air(self) -> dict[str, float]:
        """Return bay_id -> density of its air (kg/m^3), for the bays whose air is set."""
        return {bay_id: bay.air_density for bay_id, bay in self.bays.items() if bay.air_density is not None}

    def numbers_checked(self) -> list[str]:
        """Return the bays whose numbers somebody looked at and found right."""
        return sorted(bay_id for bay_id, bay in self.bays.items() if bay.numbers_checked)

    def matters_from(self, metric: str, club_group: str) -> float:
        """Return the smallest change that matters, in the metric's canonical unit."""
        size = self.matters.get(metric, METRIC[metric].matters_from)
        if isinstance(size, dict):
            return size.get(club_group, METRIC[metric].matters_from)
        return size


def load(home: Path) -> Settings:
    """Read academy.toml of a home; every default where there is none.

    Raises
    ------
    SettingsFault
        The file is no TOML 1.0, or a key or value is not known; the message names file, key and remedy.
    """
    path = home / "academy.toml"
    try:
        if not path.exists():
            return _in_zone_of_sites(Settings(), home)
        with path.open("rb") as file:
            return _in_zone_of_sites(Settings.model_validate(tomllib.load(file)), home)
    except ValidationError as fault:
        told = (in_words(error, Settings) for error in fault.errors())
        raise SettingsFault("academy.toml: " + "; ".join(told)) from fault
    except RecursionError as fault:
        raise SettingsFault("academy.toml cannot be read: brackets without end; correct it") from fault
    except (ValueError, OSError) as fault:  # no TOML, no UTF-8, or a number of thousands of digits
        raise SettingsFault(f"academy.toml cannot be read: {fault}") from fault


def _in_zone_of_sites(settings: Settings, home: Path) -> Settings:
    """Return settings with the sites' time zone where they name none."""
    zone = None if "timezone" in settings.academy.model_fields_set else westernmost(zones_of_sites(home))
    if zone is None:
        return settings
    return settings.model_copy(update={"academy": settings.academy.model_copy(update={"timezone": zone})})


def inline(value: object) -> str:
    """Return a default as TOML writes it."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {inline(item)}" for key, item in value.items()) + " }" if value else "{}"
    return f'"{value}"' if isinstance(value, str) else str(value)


def commented_toml(timezone: str = "") -> str:
    """Return academy.toml with every setting at its default, commented out and explained; a time zone given is set."""
    lines = ["# Settings of this academy. Every line is a default; take the # off to change it.", ""]
    for name, section in Settings.model_fields.items():
        if not (isinstance(section.annotation, type) and issubclass(section.annotation, Section)):
            continue
        lines += [f"# {section.annotation.__doc__}".replace("\n", " "), f"[{name}]"]
        for key, field in section.annotation.model_fields.items():
            default = field.get_default(call_default_factory=True)
            value = inline(default)
            mark = "# "
            if key == "timezone" and timezone:
                mark, value = "", inline(timezone)
            lines.append(f"{mark}{key} = {value}  # {field.description}")
        lines.append("")
    lines += [
        f"# {Settings.model_fields['matters'].description}",
        "[matters]",
        "# attack_angle = 1.0",
        "# carry = { driver = 4.5, iron = 3.0 }",
        "",
        f"# {Settings.model_fields['bays'].description}",
        "# [bays.B07]",
        f"# clock_ahead_seconds = 180  # {Bay.model_fields['clock_ahead_seconds'].description}",
        f"# air_density = 1.225  # {Bay.model_fields['air_density'].description}",
        "",
    ]
    return "\n".join(lines)
