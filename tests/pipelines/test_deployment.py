"""The examples of pipelines/deployment start what they say: every command is one the program has, and names agree."""

from __future__ import annotations

import configparser
import shlex
import tomllib
from pathlib import Path

import click
import pytest
import typer
import yaml
from sqlalchemy.engine import make_url

from pipelines.command_line import app
from pipelines.lakehouse.serving import Part, command
from warehouse.settings.settings import Settings

FOLDER = Path(__file__).parents[2] / "pipelines" / "deployment"
LAKEHOUSE = FOLDER / "lakehouse"
COMPOSE = sorted(FOLDER.rglob("compose.yaml"))
UNITS = sorted(FOLDER.rglob("*.service"))


def unit(path: Path) -> dict[str, dict[str, list[str]]]:
    """Return a systemd unit: section, key, its values in order."""
    parser = configparser.RawConfigParser(strict=False, delimiters=("=",), comment_prefixes=("#",))
    parser.optionxform = str
    parser.read(path, encoding="utf-8")
    return {section: dict(parser[section]) for section in parser.sections()}


def services(path: Path) -> dict[str, dict]:
    """Return a compose file's services, merged as YAML merges them."""
    return yaml.safe_load(path.read_text(encoding="utf-8"))["services"]


def parsed(arguments: list[str]) -> dict:
    """Parse an `academy` command line as the program would, without running it; return its options."""
    group = typer.main.get_command(app)
    with click.Context(group, info_name="academy") as context:
        name, found, rest = group.resolve_command(context, arguments)
        return found.make_context(name, list(rest), parent=context).params


def academy_lines(text: str) -> list[list[str]]:
    """Return the arguments of `academy` wherever a shell line calls it."""
    lines = (part.strip() for part in text.replace("do ", ";").split(";"))
    return [shlex.split(line)[1:] for line in lines if line.split(" ")[0] == "academy"]


def of_service(service: dict) -> list[list[str]]:
    """Return the `academy` command lines of a container."""
    entry = service.get("entrypoint", ["academy"])
    if entry[:2] == ["sh", "-c"]:
        return academy_lines(entry[2])
    return [service["command"]] if "command" in service else []


@pytest.mark.parametrize("path", COMPOSE, ids=lambda path: path.parent.name)
def test_every_academy_command_in_a_container_is_one_the_program_takes(path: Path) -> None:
    found = {name: of_service(service) for name, service in services(path).items()}
    assert sum(map(len, found.values())) >= 2
    for lines in found.values():
        for line in lines:
            assert parsed(line) is not None


@pytest.mark.parametrize("path", COMPOSE, ids=lambda path: path.parent.name)
def test_containers_name_each_other_and_open_no_port_beyond_this_machine(path: Path) -> None:
    found = services(path)
    for service in found.values():
        assert set(service.get("depends_on", ())) <= set(found)
        assert all(port.startswith("127.0.0.1:") for port in service.get("ports", ()))


@pytest.mark.parametrize("path", UNITS, ids=lambda path: path.name)
def test_every_command_of_a_unit_is_one_the_program_takes(path: Path) -> None:
    said = unit(path)["Service"]["ExecStart"].replace("%i", "low")
    words = shlex.split(said)
    in_shell = shlex.split(words[-1].partition("/academy ")[2].replace("$", ""))
    assert parsed(words[1:] if words[0].endswith("/academy") else in_shell) is not None


def test_every_timer_has_its_service() -> None:
    for timer in FOLDER.rglob("*.timer"):
        assert timer.with_suffix(".service").exists(), timer.name


def test_the_lakehouse_s_settings_are_settings_and_name_the_server_that_the_containers_start() -> None:
    settings = Settings.model_validate(tomllib.loads((LAKEHOUSE / "academy.toml").read_text(encoding="utf-8")))
    found = services(LAKEHOUSE / "compose.yaml")
    server = found["postgres"]["environment"]
    for url in (settings.lakehouse.catalog, settings.notebook.url):
        named = make_url(url)
        assert (named.host, named.username, named.database) == (
            "postgres", server["POSTGRES_USER"], server["POSTGRES_DB"]
        )  # fmt: skip
        assert named.password is None
    assert settings.lakehouse.shared
    for name, service in found.items():
        if name != "postgres":
            assert "PGPASSWORD" in service["environment"], name
            assert service["build"]["args"]["extras"] == "[lakehouse]", name


def test_web_server_and_daemon_ask_the_workers_where_those_are() -> None:
    found = services(LAKEHOUSE / "compose.yaml")
    told = {name: parsed(found[name]["command"]) for name in ("workers", "daemon", "web")}
    there = f"workers:{told['workers']['port']}"
    assert told["daemon"]["workers"] == told["web"]["workers"] == there
    starts = {part: unit(LAKEHOUSE / "systemd" / f"academy-{part}.service")["Service"]["ExecStart"] for part in told}
    units = {part: parsed(shlex.split(said)[1:]) for part, said in starts.items()}
    assert units["daemon"]["workers"] == units["web"]["workers"] == f"127.0.0.1:{units['workers']['port']}"
    assert [told[name]["part"] for name in told] == [Part.WORKERS, Part.DAEMON, Part.WEB]


def test_the_parts_are_dagster_s_own_processes() -> None:
    for part in (Part.DAEMON, Part.WEB):
        said = command(part, address="0.0.0.0", port=3000, workers="workers:4001")
        assert said[-4:] == ["--grpc-host", "workers", "--grpc-port", "4001"]
    assert command(Part.WORKERS, address="0.0.0.0", port=4001, workers="")[3:5] == ["code-server", "start"]
