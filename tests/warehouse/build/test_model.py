"""Models: what a select reads, the order it gives, and when code makes nights be built again."""

from __future__ import annotations

import duckdb
import pytest

from warehouse.build import model


@pytest.fixture
def connection():
    """A connection."""
    with duckdb.connect() as opened:
        yield opened


@pytest.mark.parametrize(
    ("sql", "read"),
    [
        ("select 1", set()),
        ("select * from core.shot", {"core.shot"}),
        ("with a as (select * from core.shot) select * from a join raw.bay using (bay_id)", {"core.shot", "raw.bay"}),
        ("select (select max(night) from core.session), x from (from mart.drill) where x in (select y from raw.lesson)",
         {"core.session", "mart.drill", "raw.lesson"}),
        ("from core.shot semi join stage.night using (night)", {"core.shot", "stage.night"}),
        ("select * from core.block asof left join core.bay_epoch on true", {"core.block", "core.bay_epoch"}),
    ],
)  # fmt: skip
def test_the_tables_a_select_reads_are_found_wherever_they_stand(connection, sql: str, read: set[str]) -> None:
    assert model.tables_read(connection, sql) == read


@pytest.mark.parametrize("sql", ["select from where", "delete from core.shot", "create table core.x as select 1"])
def test_what_is_no_select_is_refused(connection, sql: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        model.tables_read(connection, sql)


def test_every_model_stands_after_those_it_reads() -> None:
    seen: set[str] = set()
    for name, one in model.models().items():
        assert one.reads & model.models().keys() <= seen, name
        seen.add(name)


def test_a_select_that_reads_what_nothing_makes_is_refused(tmp_path, monkeypatch) -> None:
    (tmp_path / "core").mkdir()
    (tmp_path / "core" / "shot.sql").write_text("select * from core.shoot")
    monkeypatch.setattr(model, "FOLDER", tmp_path)
    with pytest.raises(ValueError, match=r"core\.shoot, which no model makes"):
        model.models.__wrapped__()


def test_a_night_is_built_again_when_its_sql_or_the_maths_behind_it_changes(tmp_path, monkeypatch) -> None:
    files = model.code_behind(model.FOLDER / "stage" / "shot_flight.py")
    assert {"shot_flight.py", "flight.py", "air.py", "shot_columns.py", "metrics.py"} <= {path.name for path in files}
    before = model.night_code_hash.__wrapped__()
    assert model.night_code_hash.__wrapped__() == before
    changed = tmp_path / "flight.py"
    changed.write_text("drag = 0\n")
    monkeypatch.setattr(model, "code_behind", lambda path: {changed})
    assert model.night_code_hash.__wrapped__() != before
