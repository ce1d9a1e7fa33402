"""What a model file is, which tables it reads, and the order in which all of them can be built.

A model is a file under warehouse/models/<schema>/: `<table>.sql`, one select, or `<table>.py` with `READS`, the selects
it needs by name, and `rows(frames, settings)`, which returns the table's rows. Models of schema `stage` live only while
nights are being built.
"""

from __future__ import annotations

import ast
import hashlib
import importlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import duckdb

from warehouse.privacy import masking
from warehouse.schema.registry import TABLES

ROOM = Path(__file__).parents[1]
FOLDER = ROOM / "models"
GIVEN = frozenset(
    {"stage.night", "stage.bay_clock", "stage.drawn_drill", "stage.club", "stage.metric_name", *masking.SHOWN}
)
"""Stage tables that the build itself fills from declarations and settings."""

KEPT = frozenset({"ops.night", "ops.publication", "ops.check_result", "ops.run_step", "ops.current_through"})
"""Tables that no model makes: the build, the audit and the publication keep their own books in them."""


@dataclass(frozen=True)
class Model:
    """One table's maker."""

    name: str
    path: Path
    reads: frozenset[str]

    @property
    def by_night(self) -> bool:
        """True where rows are replaced night by night."""
        return self.name.startswith("stage.") or TABLES[self.name].night is not None

    @property
    def stage(self) -> bool:
        """True for steps that live only during a build of nights."""
        return self.name.startswith("stage.")

    def select(self) -> str:
        """Return the SQL of a SQL model."""
        return self.path.read_text(encoding="utf-8")

    def module(self) -> tuple[dict[str, str], Callable]:
        """Return READS and rows of a Python model."""
        module = importlib.import_module(f"warehouse.models.{self.path.parent.name}.{self.path.stem}")
        return module.READS, module.rows


def tables_read(connection: duckdb.DuckDBPyConnection, sql: str) -> set[str]:
    """Return the schema-qualified tables that a select names.

    Raises
    ------
    ValueError
        The SQL is not one select.
    """
    tree = json.loads(connection.execute("select json_serialize_sql(?)", [sql]).fetchone()[0])
    if tree["error"]:
        raise ValueError(f"{tree['error_message']} (position {tree.get('position', '?')})")
    found: set[str] = set()
    pending = [tree]
    while pending:
        node = pending.pop()
        if isinstance(node, dict):
            if node.get("type") == "BASE_TABLE" and node.get("schema_name"):
                found.add(f"{node['schema_name']}.{node['table_name']}")
            pending.extend(node.values())
        elif isinstance(node, list):
            pending.extend(node)
    return found


@cache
def models() -> dict[str, Model]:
    """Return all models by name, each after those it reads.

    Raises
    ------
    ValueError
        A file's SQL cannot be parsed, or reads a table that nothing makes.
    graphlib.CycleError
        Models read each other.
    """
    found: dict[str, Model] = {}
    with duckdb.connect() as connection:
        for path in sorted((*FOLDER.glob("*/*.sql"), *FOLDER.glob("*/*.py"))):
            if path.stem == "__init__":
                continue
            name = f"{path.parent.name}.{path.stem}"
            if path.suffix == ".py":
                module = importlib.import_module(f"warehouse.models.{path.parent.name}.{path.stem}")
                selects = list(module.READS.values())
            else:
                selects = [path.read_text(encoding="utf-8")]
            try:
                reads = frozenset().union(*(tables_read(connection, select) for select in selects))
            except ValueError as fault:
                raise ValueError(f"{path}: {fault}") from fault
            found[name] = Model(name, path, reads)
    for model in found.values():
        unknown = {table for table in model.reads - GIVEN - KEPT if table not in found and not table.startswith("raw.")}
        if unknown:
            raise ValueError(f"{model.path} reads {', '.join(sorted(unknown))}, which no model makes")
    order = TopologicalSorter({name: model.reads & found.keys() for name, model in found.items()}).static_order()
    return {name: found[name] for name in order}


def code_behind(path: Path) -> set[Path]:
    """Return a Python file and all of warehouse that it imports, near and far."""
    root, found, pending = ROOM.parent, set[Path](), [path]
    while pending:
        file = pending.pop()
        if file in found or not file.is_file():
            continue
        found.add(file)
        for node in ast.walk(ast.parse(file.read_bytes())):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("warehouse"):
                folder = root.joinpath(*node.module.split("."))
                pending += [folder.with_suffix(".py"), *(folder / f"{alias.name}.py" for alias in node.names)]
    return found


def code_hash(files: set[Path]) -> str:
    """Return a hash of what is written in files."""
    digest = hashlib.blake2b(digest_size=8)
    for file in sorted(files):
        digest.update(file.read_bytes())
    return digest.hexdigest()


@cache
def night_code_hash() -> str:
    """Return a hash of everything that shapes a night's rows: when it changes, every night is built again.

    Settings are not part of it: those that matter are in a night's fingerprint by their values.
    """
    files = {ROOM / "schema" / "metrics.py", Path(__file__).with_name("randomised_drills.py")}
    for model in models().values():
        if model.by_night:
            files |= code_behind(model.path) if model.path.suffix == ".py" else {model.path}
    return code_hash({file for file in files if not file.is_relative_to(ROOM / "settings")})
