"""What is said to be planted is planted: effects, nulls, selection, bay errors, and each kind of mess."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from demo_data.academy import FULL
from demo_data.effects import AIM
from demo_data.generate import SEED
from demo_data.swing import hit
from demo_data.term import play
from demo_data.timetable import COACHED


@pytest.fixture(scope="module")
def term():
    return play(FULL, SEED)


@pytest.fixture(scope="module")
def blocks(term):
    """One row an episode: mean of its aim before and after, as truly delivered, first drills of a session only."""
    seen, rows = set(), []
    for episode in term.episodes:
        s, aim = episode.session, AIM[episode.drill]
        if s in seen or aim < 0:
            continue
        seen.add(s)
        first = term.shots.first[s] + term.sessions.warm_shots[s]
        begin, end = (term.shots.first[s] + place for place in (episode.begin, episode.end))
        later = [e.begin for e in term.episodes if e.session == s and e.begin > episode.begin]
        stop = term.shots.first[s] + min([term.sessions.shots[s], *later])
        aims = term.shots.delivery[:, aim]
        rows.append((episode.drill + 1, episode.chosen_by, episode.pre_look, aims[first:begin].mean(),
                     aims[end:stop].mean()))  # fmt: skip
    return pl.DataFrame(rows, schema=["drill", "chosen_by", "look", "before", "after"], orient="row")


def test_three_aims_and_more_have_no_effect_and_one_hurts(full):
    drills, episodes = full.truth("drills"), full.truth("episodes")
    nulls = drills.filter(pl.col("is_aim") & pl.col("is_null"))
    assert nulls.height >= 3
    assert episodes.filter(pl.col("drill_id").is_in(nulls["drill_id"].to_list()))["transfer"].abs().max() == 0
    raised = drills.filter(pl.col("is_aim") & (pl.col("aim_direction") == "raise") & (pl.col("mean_transfer") < 0))
    assert raised.height == 1


def test_effects_differ_by_student_and_are_partly_retained(full):
    real = full.truth("drills").filter(pl.col("is_aim") & ~pl.col("is_null"))
    answers = full.truth("student_drill").filter(pl.col("drill_id").is_in(real["drill_id"].to_list()))
    assert (answers.group_by("drill_id").agg(pl.col("response").std())["response"] > 0.2).all()
    share = real["mean_kept"] / real["mean_transfer"]
    assert ((share > 0.05) & (share < 0.75)).all()


def test_aims_toward_a_target_come_nearer_from_both_sides(full):
    toward = full.truth("episodes").filter(pl.col("drill_id").is_in(["D02", "D03"]) & pl.col("is_aim"))
    assert (toward["transfer"] > 0).sum() > 20 and (toward["transfer"] < 0).sum() > 20
    assert (toward["distance_change"] < 0).mean() > 0.95


def test_under_the_rod_the_face_is_kept(full):
    rows = full.truth("episodes").filter(pl.col("drill_id") == "D03")
    assert "face_to_path" in rows["metric"].to_list() and "face_angle" not in rows["metric"].to_list()


def test_a_chosen_drill_finds_the_number_worse_than_usual_and_a_drawn_one_does_not(blocks):
    chosen = blocks.filter(pl.col("chosen_by") == "coach")["look"]
    drawn = blocks.filter(pl.col("chosen_by") == "draw")["look"]
    assert chosen.mean() > 0.25 and drawn.len() > 100
    assert abs(drawn.mean()) < chosen.mean() / 2


def test_a_null_drill_looks_useful_before_and_after(blocks):
    """Regression to the mean and warm-up: club speed rises after a drill that does nothing."""
    null = blocks.filter((pl.col("drill") == 8) & (pl.col("chosen_by") != "draw"))
    gain = (null["after"] - null["before"]).to_numpy()
    assert gain.mean() > 2 * gain.std() / np.sqrt(gain.size)


def test_real_effects_show_in_the_shots(blocks):
    for drill, sign in ((1, 1), (4, 1), (9, -1), (11, -1), (10, -1)):
        rows = blocks.filter(pl.col("drill") == drill)
        assert sign * (rows["after"] - rows["before"]).mean() > 0.5, drill


def test_a_drill_adds_its_shift_after_it_and_nothing_before_it(term):
    """Against the same swings hit without any drill: before, only what earlier days left; after, the shift on top."""
    plain = hit(term.sessions, term.students, SEED).delivery
    added = np.where(term.mess.demo[:, None], np.nan, term.shots.delivery - plain)
    single = pl.Series([episode.session for episode in term.episodes]).is_unique()
    checked = [episode for episode, alone in zip(term.episodes, single, strict=True) if alone][:800]
    for episode in checked:
        begins, ends = term.shots.first[episode.session], term.sessions.shots[episode.session]
        before = added[begins + term.sessions.warm_shots[episode.session] : begins + episode.begin]
        after = added[begins + episode.end : begins + ends]
        kept = np.nanmean(before, axis=0)
        np.testing.assert_allclose(before - kept, np.where(np.isnan(before), np.nan, 0), atol=1e-9)
        np.testing.assert_allclose(np.nanmean(after, axis=0) - kept, episode.shift, atol=1e-9)


def test_bay_errors_sum_to_zero_and_one_bay_drifts(full):
    bays = full.truth("bays")
    assert bays.group_by("metric").agg(pl.col("bay_offset").sum())["bay_offset"].abs().max() < 0.01
    assert bays.filter(pl.col("drift_total") != 0)["bay_id"].unique().to_list() == ["16"]
    event = full.table("events").filter(pl.col("kind") == "device recalibrated")
    assert event["id"].to_list() == ["16"]


def test_the_drifting_bay_rises_against_the_others_and_falls_back(full, full_shots):
    day = pl.col("night").str.to_date().dt.ordinal_day() - 5
    drives = full_shots.filter((pl.col("club") == "driver") & pl.col("student_id").is_not_null())
    own = pl.col("attack_angle") - pl.col("attack_angle").mean().over("student_id")
    bay = drives.with_columns(own.alias("own"), day.alias("day")).filter(pl.col("bay_id") == "16")
    drift = full.truth("bays").filter((pl.col("bay_id") == "16") & (pl.col("metric") == "attack_angle"))
    until = drift["drift_until_day"][0]
    early, at_end, after = (bay.filter(pl.col("day").is_between(*span))["own"].mean()
                            for span in ((0, 25), (until - 14, until - 1), (until, 98)))  # fmt: skip
    assert at_end - early > 1.0 and at_end - after > 1.0


def test_the_dead_bay_sent_nothing_and_reports_before_and_after(full):
    dead = full.truth("mess").filter(pl.col("kind") == "dead bay").row(0, named=True)
    files = full.truth("files").filter(pl.col("bay_id") == dead["bay_id"])["night"]
    assert not files.is_between(pl.lit(dead["night"]), pl.lit(dead["until_night"]), closed="left").any()
    assert (files < dead["night"]).any() and (files >= dead["until_night"]).any()
    hit = full.truth("sessions").filter(pl.col("bay_was_dead"))
    assert hit.height > 5 and (hit["bay_id"] == dead["bay_id"]).all()


def test_a_bay_clock_runs_three_minutes_ahead_for_some_weeks(full, full_shots):
    wrong = full.truth("mess").filter(pl.col("kind") == "clock ahead").row(0, named=True)
    sessions = full.truth("sessions").filter((pl.col("bay_id") == wrong["bay_id"]) & (pl.col("sharing") == 1))
    begins = full_shots.filter(pl.col("bay_id") == wrong["bay_id"]).with_columns(
        pl.col("struck_at").dt.hour().cast(pl.Int64).alias("hour")).group_by("night", "hour").agg(
        pl.col("struck_at").min().dt.minute().alias("minute")).join(sessions, on=["night", "hour"])  # fmt: skip
    during = begins["night"].is_between(pl.lit(wrong["night"]), pl.lit(wrong["until_night"]), closed="left")
    assert begins.filter(during)["minute"].median() - begins.filter(~during)["minute"].median() == 3


@pytest.mark.parametrize(
    ("kind", "least"),
    [("group lesson", 20), ("taking turns", 20), ("demonstration", 20), ("overrun", 10), ("another student", 5),
     ("guest", 50), ("drill without an end", 2)],
)  # fmt: skip
def test_each_kind_of_mess_is_there(full, kind, least):
    assert (full.truth("mess")["kind"] == kind).sum() >= least


def test_a_group_lesson_is_several_lessons_in_one_bay(full):
    group = full.truth("mess").filter(pl.col("kind") == "group lesson").row(0, named=True)
    lessons = full.table("lessons")
    mine = lessons.filter(pl.col("lesson_id") == group["lesson_id"]).row(0, named=True)
    together = lessons.filter((pl.col("bay_id") == mine["bay_id"]) & (pl.col("starts_at") == mine["starts_at"]))
    assert together.height == 3 and together["coach_id"].n_unique() == 1 and together["student_id"].n_unique() == 3


def test_students_sharing_a_bay_take_turns(full, full_shots):
    pair = full.truth("mess").filter((pl.col("kind") == "taking turns") & pl.col("detail").str.contains("sign-in")
                                     & ~pl.col("detail").str.contains("no sign")).row(0, named=True)  # fmt: skip
    hour = int(full.table("lessons").filter(pl.col("lesson_id") == pair["lesson_id"])["starts_at"][0][11:13])
    shots = full_shots.filter((pl.col("night") == pair["night"]) & (pl.col("bay_id") == pair["bay_id"])
                              & (pl.col("struck_at").dt.hour() == hour)).sort("struck_at")  # fmt: skip
    changes = (shots["student_id"] != shots["student_id"].shift(1)).sum()
    assert shots["student_id"].n_unique() == 2 and changes >= 8


def test_a_lesson_that_overruns_goes_past_its_hour(term):
    over = np.flatnonzero(term.mess.overruns)
    last = term.seconds[term.shots.first + term.sessions.shots - 1]
    assert over.size >= 10 and (last[over] > 3600).all() and (np.delete(last, over) < 3600).all()
    assert (term.sessions.kind[over] == COACHED).all()


def test_demonstration_balls_stand_without_a_student_among_a_students_balls(full, full_shots):
    shown = (
        full.truth("mess")
        .filter(pl.col("kind") == "demonstration")
        .join(full.truth("sessions").select("lesson_id", "hour", "overran"), on="lesson_id")
        .filter(~pl.col("overran"))
    )
    hit_then = full_shots.with_columns(pl.col("struck_at").dt.hour().cast(pl.Int64).alias("hour")).join(
        shown.select("night", "bay_id", "hour", "lesson_id"), on=["night", "bay_id", "hour"])  # fmt: skip
    unsigned = hit_then.group_by("lesson_id").agg(pl.col("student_id").null_count().alias("none"), pl.len())
    signed_in = unsigned.filter(pl.col("none") < 10)
    assert signed_in.height > 20 and (signed_in["none"] == 3).mean() > 0.9


def test_guests_are_nobody_the_academy_knows(full, full_shots):
    named = full_shots["student_id"].drop_nulls().unique()
    strangers = named.filter(~named.is_in(full.table("students")["student_id"].to_list()))
    assert strangers.len() > 20 and strangers.str.starts_with("guest-").all()


def test_students_who_play_both_sites_link_them(full):
    sites = full.table("bays").select("bay_id", "site_id")
    seen = full.truth("sessions").drop_nulls("student_id").join(sites, on="bay_id")
    both = seen.group_by("student_id").agg(pl.col("site_id").n_unique().alias("sites"))
    assert (both["sites"] == 2).sum() >= 5
