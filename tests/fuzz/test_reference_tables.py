"""Reference tables and profiles with any damage: one error that names them all, or warnings; never another error."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.fuzz.conftest import COLUMNS, TABLES, Tried
from tests.fuzz.damage import CUT, EDITS, Edits, damaged, many
from warehouse.landing.profile import profile
from warehouse.landing.reference import load
from warehouse.landing.reference.load import ReferenceTablesError


@many()
@given(
    damage=st.dictionaries(st.sampled_from(sorted(TABLES)), st.tuples(EDITS, CUT), min_size=1, max_size=3),
    gone=st.sampled_from([None, None, None, *sorted(TABLES)]),
)
def test_damaged_tables_give_one_error_or_are_taken_with_warnings(
    tried: Tried, damage: dict[str, tuple[Edits, float | None]], gone: str | None
) -> None:
    tried.tables()
    for name, (edits, cut) in damage.items():
        tried.write(tried.landing / "academy" / f"{name}.csv", damaged(TABLES[name].encode(), edits, cut))
    if gone:
        (tried.landing / "academy" / f"{gone}.csv").unlink()
    before = tried.rows("select name, content_hash from raw.reference_file order by all")
    try:
        summary = load.load(tried.con, tried.landing)
    except ReferenceTablesError as fault:
        assert fault.faults and all(one.file.endswith(".csv") for one in fault.faults)
        assert tried.rows("select name, content_hash from raw.reference_file order by all") == before
        assert len(str(fault)) < 400 * len(fault.faults)
    else:
        for file, rows in summary.rows.items():
            table = {"coaches": "coach", "drill_log": "drill_log"}.get(file[:-4], file[:-5])
            assert tried.rows(f"select count(*) from raw.{table}") == [(rows,)]
        assert all(len(line) < 400 for line in summary.warnings)
    finally:
        tried.tables()
        load.load(tried.con, tried.landing)


@many()
@given(edits=EDITS, cut=CUT)
def test_a_damaged_profile_is_read_or_named_in_one_error(tried: Tried, edits: Edits, cut: float | None) -> None:
    text = '[file]\nformat = "csv"\nencoding = "utf-8"\nnulls = ["", "-"]\nskip_rows = 1\n' + COLUMNS
    tried.profile("damaged", damaged(text.encode(), edits, cut))
    try:
        profile.read(tried.landing / "profiles" / "damaged.toml")
    except profile.ProfileError as fault:
        assert str(fault).startswith("profiles/damaged.toml: ")


VALUES = st.one_of(st.text(max_size=8), st.integers(), st.booleans(), st.just("utf-8"), st.sampled_from(
    ["base64", "zip", "rot13", "idna", "punycode", "unicode_escape", "undefined", "utf-7", "cp037", "utf_16_be", "hex"]
))  # fmt: skip


@many()
@given(key=st.sampled_from(["encoding", "delimiter", "decimal", "timestamp_format", "timezone", "format", "other"]),
       value=VALUES)  # fmt: skip
def test_a_profile_s_fault_names_its_key_and_what_passes_can_be_used(tried: Tried, key: str, value: object) -> None:
    said = str(value).lower() if isinstance(value, bool) else str(value)
    if isinstance(value, str):
        said = '"' + "".join(f"\\U{ord(letter):08x}" for letter in value) + '"'
    tried.reset()
    tried.profile("tried", f"[file]\n{key} = {said}\n" + COLUMNS)
    try:
        profile.read(tried.landing / "profiles" / "tried.toml")
    except profile.ProfileError as fault:
        assert key in str(fault)
    tried.shots("01.csv", (",".join(["time", "who", "club", "ball", "launch"]) + "\n1,2,3,4,\xe9\n").encode("latin-1"))
    tried.load()
    tried.assert_accounted()


@pytest.mark.parametrize("table", ["lessons", "drill_log", "students"])
def test_a_quote_never_closed_does_not_swallow_the_rest_of_a_table(tried: Tried, table: str) -> None:
    lines = TABLES[table].splitlines(keepends=True)
    start = lines[1].rsplit(",", 1)
    try:
        tried.write(tried.landing / "academy" / f"{table}.csv",
                    (lines[0] + f'{start[0]},"{start[1]}' + lines[1] * 3).encode())  # fmt: skip
        with pytest.raises(ReferenceTablesError, match=r"line 2.*quote"):
            load.load(tried.con, tried.landing)
    finally:
        tried.tables()
        load.load(tried.con, tried.landing)
