"""The reference tables keep the input contract: columns, ids as text, references that exist, times that fit."""

from __future__ import annotations

import polars as pl
import pytest

from warehouse.schema.metrics import CLUB_GROUPS, METRIC

COLUMNS = {
    "sites": "site_id name timezone altitude_m",
    "bays": "bay_id site_id export_profile setting ball",
    "coaches": "coach_id name",
    "students": "student_id name handed handicap joined_on cohort born_on consent consent_evidence",
    "drills": "drill_id name aim_metric aim_direction aim_target club_group setup caution",
    "lessons": "lesson_id student_id coach_id bay_id starts_at ends_at",
    "drill_log": "lesson_id drill_id starts_at ends_at chosen_by",
    "observations": "student_id observed_at measure value unit coach_id",
    "events": "scope id on_date kind club note",
    "enrolments": "student_id cohort from_date to_date",
}
MAY_BE_EMPTY = {
    "students": {"handicap", "cohort", "born_on", "consent_evidence"},
    "drills": {"aim_metric", "aim_direction", "aim_target", "setup", "caution"},
    "lessons": {"coach_id"},
    "drill_log": {"ends_at", "chosen_by"},
    "observations": {"coach_id"},
    "events": {"club", "note"},
    "enrolments": {"to_date"},
}


@pytest.mark.parametrize("name", COLUMNS)
def test_a_table_has_its_columns_and_no_required_value_is_empty(full, name):
    table = full.table(name)
    assert table.columns == COLUMNS[name].split()
    for column in set(table.columns) - MAY_BE_EMPTY.get(name, set()):
        assert table[column].null_count() == 0, column


@pytest.mark.parametrize(
    ("name", "column", "target"),
    [("bays", "site_id", "sites"), ("lessons", "student_id", "students"), ("lessons", "bay_id", "bays"),
     ("lessons", "coach_id", "coaches"), ("drill_log", "lesson_id", "lessons"), ("drill_log", "drill_id", "drills"),
     ("observations", "student_id", "students"), ("enrolments", "student_id", "students")],
)  # fmt: skip
def test_what_a_table_refers_to_exists(full, name, column, target):
    known = full.table(target)[column].to_list()
    assert full.table(name)[column].drop_nulls().is_in(known).all()


def test_ids_keep_their_leading_zeros(full):
    for table, column, width in (("students", "student_id", 4), ("bays", "bay_id", 2), ("lessons", "lesson_id", 6)):
        ids = full.table(table)[column]
        assert ids.str.len_chars().eq(width).all() and ids.str.starts_with("0").any() and ids.n_unique() == ids.len()


def test_aims_are_metrics_directions_and_targets_as_agreed(full):
    drills = full.table("drills")
    assert set(drills["aim_metric"].drop_nulls()) <= set(METRIC)
    assert set(drills["club_group"]) <= {*CLUB_GROUPS, "any"}
    toward = drills["aim_direction"] == "toward"
    assert drills.filter(toward)["aim_target"].cast(pl.Float64).null_count() == 0
    assert drills.filter(~toward.fill_null(False))["aim_target"].null_count() == (~toward.fill_null(False)).sum()
    assert drills["aim_metric"].null_count() == 1


def test_a_drill_with_an_object_near_the_club_carries_a_caution(full):
    near = full.table("drills").filter(pl.col("setup").str.contains("box|bag stands|rod"))
    assert near.height == 3
    for words in ("soft", "Nobody in", "Eye protection", "Stop on any pain", "coach on site", "under supervision"):
        assert near["caution"].str.contains(words).all(), words


def test_lessons_last_an_hour_and_no_coach_is_in_two_bays_at_once(full):
    lessons = full.table("lessons").with_columns(pl.col("starts_at", "ends_at").str.to_datetime("%Y-%m-%dT%H:%M:%S"))
    assert (lessons["ends_at"] - lessons["starts_at"]).dt.total_minutes().eq(60).all()
    sites = full.table("bays").select("bay_id", "site_id")
    coached = lessons.drop_nulls("coach_id").join(sites, on="bay_id")
    assert coached.group_by("coach_id", "starts_at").agg(pl.col("bay_id").n_unique())["bay_id"].max() == 1


def test_drills_lie_inside_their_lesson_and_a_few_have_no_end(full):
    log = full.table("drill_log").join(full.table("lessons"), on="lesson_id", suffix="_lesson")
    assert (log["starts_at"] > log["starts_at_lesson"]).all()
    ended = log.drop_nulls("ends_at")
    assert (ended["ends_at"] > ended["starts_at"]).all()
    planted = full.truth("mess").filter(pl.col("kind") == "drill without an end")
    assert 0 < planted.height == log["ends_at"].null_count() < 20
    assert set(log["chosen_by"]) == {"coach", "student", "draw"}


def test_people_are_of_all_ages_hands_and_wishes(full):
    students = full.table("students")
    born = students["born_on"].drop_nulls().str.to_date()
    assert (born.dt.year() > 2008).sum() > 15 and (born.dt.year() < 1961).sum() > 10
    assert 8 <= (students["handed"] == "left").sum() <= 32
    assert (students["consent"] == "no").sum() >= 5
    evidence = students.filter(pl.col("consent") == "yes")["consent_evidence"]
    assert (evidence == "no").sum() >= 3 and evidence.null_count() > 50


def test_enrolments_of_a_student_follow_each_other_without_overlap(full):
    terms = full.table("enrolments").sort("student_id", "from_date")
    later = terms.filter(pl.col("student_id") == pl.col("student_id").shift(1))
    earlier = terms.filter(pl.col("student_id") == pl.col("student_id").shift(-1))
    assert later.height == 160 and (later["from_date"] > earlier["to_date"]).all()
