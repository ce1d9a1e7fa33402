"""Rules of the house, checked: who may import whom, one producer a table, nothing written twice, nothing oversized."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path

import dagster as dg
import duckdb
import pytest

from pipelines.definitions import definitions
from warehouse.build.model import FOLDER, KEPT, models, tables_read
from warehouse.home import Home
from warehouse.schema import dictionary
from warehouse.schema.registry import TABLES

ROOT = Path(__file__).parents[1]
LAYERS = ("warehouse", "pipelines", "dashboard", "demo_data")
MODULES = sorted(path for layer in LAYERS for path in (ROOT / layer).rglob("*.py"))
QUERIES = sorted((ROOT / "dashboard").rglob("*.sql"))


def ran(*command: str) -> str:
    """Return what a tool of this environment said; empty where it found nothing."""
    tool = Path(sys.executable).parent / command[0]
    said = subprocess.run([tool, *command[1:]], cwd=ROOT, capture_output=True, text=True, check=False)
    return said.stdout + said.stderr if said.returncode else ""


def imported(path: Path) -> set[str]:
    """Return the packages that a module imports, anywhere in it."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module.split(".")[0])
    return names


def importing(package: str) -> set[str]:
    """Return the layers in which a package is imported."""
    return {path.relative_to(ROOT).parts[0] for path in MODULES if package in imported(path)}


@pytest.fixture(scope="module")
def graph(tmp_path_factory) -> dg.AssetGraph:
    """The assets of a home that holds nothing yet."""
    return definitions(Home(tmp_path_factory.mktemp("home"))).resolve_asset_graph()


def test_imports_follow_the_contracts() -> None:
    assert ran("lint-imports", "--no-cache") == ""


def test_dagster_is_imported_in_pipelines_only_and_streamlit_in_the_dashboard_only() -> None:
    assert importing("dagster") == {"pipelines"}
    assert importing("streamlit") == {"dashboard"}


def test_relative_imports_are_nowhere() -> None:
    relative = [
        str(path)
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.level
    ]
    assert relative == []


def test_every_published_table_has_one_producer() -> None:
    published = {name for name, table in TABLES.items() if table.published}
    made = [f"{path.parent.name}.{path.stem}" for path in FOLDER.glob("*/*") if path.suffix in {".sql", ".py"}]
    made = [name for name in made if not name.endswith(".__init__") and not name.startswith("stage.")]
    assert sorted([*made, *KEPT]) == sorted(published)
    assert set(made) | {name for name in models() if name.startswith("stage.")} == set(models())


def test_every_asset_that_another_names_is_made_here(graph) -> None:
    assert graph.external_asset_keys == set()
    assert graph.materializable_asset_keys == graph.get_all_asset_keys()


def test_every_model_is_an_asset_that_depends_on_what_its_select_reads(graph) -> None:
    for name, model in models().items():
        if model.stage:
            continue
        parents = {".".join(key.path) for key in graph.get(dg.AssetKey(name.split("."))).parent_keys}
        direct = {table for table in model.reads if table in models() and not models()[table].stage}
        assert direct <= parents, name


def test_every_published_table_is_upstream_of_publication(graph) -> None:
    parents = {".".join(key.path) for key in graph.get(dg.AssetKey(["published", "current"])).parent_keys}
    assert parents == set(TABLES) - KEPT


def test_every_blocking_check_stops_what_is_downstream(graph) -> None:
    from warehouse.audit import audit
    from warehouse.schema.declaration import BLOCKING

    blocking = {(check.table, check.name) for check in audit.checks() if check.severity == BLOCKING}
    assert len(blocking) > len(TABLES)
    specs = [graph.get_check_spec(key) for key in graph.asset_check_keys]
    assert sum(spec.blocking for spec in specs) == len({pair for pair in blocking if pair[0] not in KEPT})


def test_the_dictionary_is_fresh() -> None:
    assert dictionary.FILE.read_text(encoding="utf-8") == dictionary.as_markdown()


def test_every_column_is_described_in_more_than_three_words() -> None:
    thin = [
        f"{table.name}.{column.name}"
        for table in TABLES.values()
        for column in table.columns
        if len(column.description.split()) <= 3
    ]
    assert thin == []


def test_the_dashboard_reads_published_tables_only() -> None:
    assert len(QUERIES) > 20
    unpublished, unparsed = {}, []
    with duckdb.connect() as connection:
        for path in QUERIES:
            sql = re.sub(r"\{\w+\}", "1", path.read_text(encoding="utf-8"))
            try:
                read = tables_read(connection, sql)
            except ValueError:
                unparsed.append(path.name)
                continue
            if strange := read - set(TABLES):
                unpublished[path.name] = strange
    assert (unpublished, unparsed) == ({}, [])


def test_no_text_of_the_dashboard_names_a_table_of_raw_or_stage() -> None:
    named = {
        path.name
        for path in [*QUERIES, *(path for path in MODULES if path.is_relative_to(ROOT / "dashboard"))]
        if re.search(r"\b(from|join)\s+(raw|stage)\.\w", path.read_text(encoding="utf-8"))
    }
    assert named == set()


def test_no_module_is_over_300_lines_and_no_sql_over_100() -> None:
    sizes = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in [
        *MODULES, *QUERIES, *FOLDER.rglob("*.sql"), *(ROOT / "warehouse" / "checks").glob("*.sql")]}  # fmt: skip
    over = {str(path.relative_to(ROOT)): n for path, n in sizes.items() if n > (100 if path.suffix == ".sql" else 300)}
    assert over == {}


def test_no_file_is_named_for_nothing() -> None:
    forbidden = {"utils", "util", "helpers", "helper", "common", "misc", "manager", "managers"}
    named = [path.name for path in (*MODULES, *(ROOT / "tests").rglob("*.py")) if path.stem in forbidden]
    assert named == []


def test_nothing_is_left_for_later() -> None:
    words = "|".join(("TO" + "DO", "FIX" + "ME", "NotImplemented" + "Error"))
    marks = re.compile(rf"\b({words})\b|pytest\.(skip|xfail|mark\.(skip|xfail))")
    left = [path.name for path in (*MODULES, *(ROOT / "tests").rglob("*.py")) if marks.search(path.read_text("utf-8"))]
    assert left == []


def test_heavy_libraries_are_not_imported_with_the_definitions() -> None:
    code = (
        "import sys, pathlib; from warehouse.home import Home; from pipelines.definitions import definitions; "
        "definitions(Home(pathlib.Path('/nowhere'))); "
        "heavy = ('scipy.stats', 'statsmodels', 'numba', 'streamlit', 'altair'); "
        "print([name for name in heavy if name in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert said.stdout.strip().splitlines()[-1] == "[]"


def test_ruff_finds_nothing() -> None:
    assert ran("ruff", "check", ".") == ""


def test_every_file_is_formatted() -> None:
    assert ran("ruff", "format", "--check", "--quiet", ".") == ""


def test_mypy_finds_nothing_in_domain_and_schema() -> None:
    assert ran("mypy", "warehouse/domain", "warehouse/schema") == ""


def test_the_tools_that_are_asked_are_installed() -> None:
    folder = Path(sys.executable).parent
    assert [tool for tool in ("ruff", "mypy", "lint-imports") if shutil.which(tool, path=str(folder)) is None] == []
