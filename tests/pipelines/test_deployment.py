"""The examples of pipelines/deployment start what they say: every command is one the program has, and names agree."""

from __future__ import annotations

import configparser
import re
import shlex
import shutil
import subprocess
import tomllib
from pathlib import Path

import click
import pytest
import typer
import yaml
from packaging.requirements import Requirement
from sqlalchemy.engine import make_url

from pipelines import command_line
from pipelines.command_line import app
from pipelines.lakehouse.serving import Part, command
from warehouse.home import Home
from warehouse.settings.settings import Settings

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "pipelines" / "deployment"
HARDENED = {
    "UMask": "0077", "NoNewPrivileges": "yes", "CapabilityBoundingSet": "", "ProtectSystem": "strict",
    "ProtectHome": "yes", "PrivateTmp": "yes", "PrivateDevices": "yes", "RestrictNamespaces": "yes",
    "RestrictSUIDSGID": "yes", "LockPersonality": "yes", "SystemCallArchitectures": "native", "User": "academy",
}  # fmt: skip
EXPOSED_AT_MOST = 3.0
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


@pytest.mark.parametrize("path", UNITS, ids=lambda path: path.name)
def test_every_unit_gives_up_what_it_does_not_need(path: Path) -> None:
    service = unit(path)["Service"]
    assert {key: service.get(key) for key in HARDENED} == HARDENED
    if analyse := shutil.which("systemd-analyze"):
        said = subprocess.run([analyse, "security", "--offline=true", str(path)], capture_output=True, text=True,
                              check=False).stdout  # fmt: skip
        assert float(re.findall(r"exposure level for .*: (\d+\.\d+)", said)[0]) < EXPOSED_AT_MOST


@pytest.mark.parametrize("path", COMPOSE, ids=lambda path: path.parent.name)
def test_every_container_is_read_only_and_says_whether_it_is_well(path: Path) -> None:
    for name, service in services(path).items():
        assert service["read_only"] and "no-new-privileges:true" in service["security_opt"], name
        assert "healthcheck" in service, name
        if "build" in service:
            assert (service["user"], service["cap_drop"]) == ("10001:10001", ["ALL"]), name


@pytest.mark.parametrize("path", COMPOSE, ids=lambda path: path.parent.name)
def test_no_home_and_no_server_s_data_lie_in_what_a_container_is_built_from(path: Path) -> None:
    whole = yaml.safe_load(path.read_text(encoding="utf-8"))
    named = set(whole.get("volumes", {}))
    for service in whole["services"].values():
        for volume in service.get("volumes", ()):
            source = re.sub(r"\$\{[^}]*\}", "${}", volume).split(":")[0]
            assert source in named or source.startswith("${}"), volume
    ignored = (ROOT / ".dockerignore").read_text(encoding="utf-8").splitlines()
    kept = {line[1:] for line in ignored if line.startswith("!")}
    assert "*" in ignored and kept == {
        "warehouse", "pipelines", "dashboard", "demo_data", "pyproject.toml", "README.md", "LICENSE"
    }  # fmt: skip


@pytest.mark.parametrize("path", COMPOSE, ids=lambda path: path.parent.name)
def test_the_login_reaches_the_pages_as_a_secret(path: Path) -> None:
    whole = yaml.safe_load(path.read_text(encoding="utf-8"))
    pages = whole["services"]["dashboard"]
    (secret,) = pages["secrets"]
    assert secret["source"] in whole["secrets"]
    assert pages["environment"]["ACADEMY_SECRETS"] == f"/run/secrets/{secret['target']}"


def test_the_file_that_the_environment_names_is_the_login_of_the_pages(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    became: list[list[str]] = []
    monkeypatch.setattr(command_line, "become", lambda said, command, home: became.append(command))
    named = tmp_path / "login.toml"
    named.write_text("[auth]\n")
    monkeypatch.setenv("ACADEMY_SECRETS", str(named))
    command_line.open_dashboard(Home(tmp_path), 8501)
    monkeypatch.delenv("ACADEMY_SECRETS")
    command_line.open_dashboard(Home(tmp_path), 8501)
    with_login, without = became
    assert with_login[with_login.index("--secrets.files") + 1] == str(named)
    assert "--secrets.files" not in without


def test_every_library_of_the_program_is_pinned_within_its_range_and_by_name_and_version_only() -> None:
    lines = (FOLDER / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pins = dict(line.split("==") for line in lines if not line.startswith("#"))
    assert all(re.fullmatch(r"[a-z0-9][a-z0-9.-]*==[0-9][0-9a-z.+]*", line) for line in lines if line[0] != "#")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for line in (*project["dependencies"], *project["optional-dependencies"]["lakehouse"]):
        asked = Requirement(line)
        assert asked.specifier.contains(pins[asked.name.lower()], prereleases=True), line
