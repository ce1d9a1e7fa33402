"""Sentences about carry: where it came from, what weather and balls hold, which balls are read."""

from __future__ import annotations

import polars as pl

from dashboard.shell.number_format import Shown, missing
from dashboard.text import carry as words_carry
from dashboard.text import words
from dashboard.text.drill_sentences import Row, count, day, first_up


def month(row: Row, period: str) -> str:
    """Say which month or week a row of query cohort_carry is."""
    return f"{row['starts_on']:%B %Y}" if period == "month" else f"week of {day(row['starts_on'])}"


def period_line(row: Row, shown: Shown, period: str) -> str:
    """Say one month or week (query cohort_carry)."""
    return (
        f"{first_up(month(row, period))}: as measured {shown.value(row['carry'])} "
        f"(95% {shown.levels(row['carry_low'], row['carry_high'])}); on standard air "
        f"{shown.value(row['standard_carry'])} "
        f"(95% {shown.levels(row['standard_carry_low'], row['standard_carry_high'])}); measured less standard "
        f"{shown.change(row['difference'])} "
        f"(95% {shown.interval(row['difference_low'], row['difference_high'])}); "
        f"{count(row['students'], 'student')}, {count(row['shots'], 'shot')}."
    )


def season(cohort: str, club_group: str, first: Row, last: Row, shown: Shown, period: str) -> str:
    """Say what a cohort carries now, what of it the launches give, and how the rest stood at first."""
    then = (
        f"{shown.change(first['difference'])} "
        f"(95% {shown.interval(first['difference_low'], first['difference_high'])}) in "
        f"{'the ' if period == 'week' else ''}{month(first, period)}"
    )
    outside = f" {first_up(words_carry.OUTSIDE_MEASURED)}." if club_group in words_carry.OUTSIDE_GROUPS else ""
    return (
        f"{first_up(cohort)}, {words.CLUB_GROUPS[club_group]}, {month(last, period)}: carry "
        f"{shown.value(last['carry'])} as measured (95% {shown.levels(last['carry_low'], last['carry_high'])}), "
        f"{shown.value(last['standard_carry'])} for the same launches on standard air "
        f"(95% {shown.levels(last['standard_carry_low'], last['standard_carry_high'])}). Measured less standard is "
        f"{shown.change(last['difference'])} (95% {shown.interval(last['difference_low'], last['difference_high'])}), "
        f"against {then}: that part is air, balls, bays and the model's own error, not coaching.{outside}"
    )


def sources(row: Row, shown: Shown, name: str) -> str:
    """Say where the carry of a drill, a cohort or free practice came from (query carry_source_summary)."""
    parts = "; ".join(f"{part} {shown.change(row[column])}" for column, part in words.CARRY_PARTS.items())
    return (
        f"{first_up(name)}, {words.CLUB_GROUPS[row['club_group']]}: carry changed by "
        f"{shown.change(row['carry_change'])} "
        f"(95% {shown.interval(row['carry_change_low'], row['carry_change_high'])}), of which {parts}; "
        f"{count(row['students'], 'student')}, {count(row['episodes'], 'episode')}."
    )


def speed_or_delivery(row: Row, shown: Shown, name: str) -> str:
    """Say how much of a change came from speed and how much from delivery (carry_source_summary, student_carry)."""

    def part(column: str) -> str:
        low, high = row.get(f"{column}_low"), row.get(f"{column}_high")
        interval = "" if missing(low) else f" (95% {shown.interval(low, high)})"
        return f"{shown.change(row[column])}{interval}"

    return (
        f"{first_up(name)}, {words.CLUB_GROUPS[row['club_group']]}: carry changed by {part('carry_change')}, of which "
        f"{part('from_club_speed')} from club speed and {part('from_delivery')} from strike and delivery; "
        f"{shown.change(row['remainder'])} the model does not explain."
    )


def block(row: Row) -> str:
    """Name a block of free balls (query student_blocks)."""
    if row["after_drill"]:
        place = f"after {row['after_drill']}"
    elif row["segment"] == 0:
        place = "before any drill" if row["drills"] else "first part"
    else:
        place = f"after drill {row['segment']}" if row["drills"] else "second part"
    return f"{day(row['night'])} {row['begins_at']:%H:%M}, {row['club']}, {place}, {count(row['shots'], 'shot')}"


def shot(number: int, row: Row, speed: Shown, carry: Shown) -> str:
    """Name one ball of a session (query block_shots)."""
    said = [f"ball {number}", f"{row['struck_at_local']:%H:%M:%S}", f"{speed.value(row['ball_speed'])} ball speed"]
    if not missing(row["carry"]):
        said.append(f"{carry.value(row['carry'])} carry")
    if words_carry.SHOT_PHASES.get(row["phase"]):
        said.append(words_carry.SHOT_PHASES[row["phase"]])
    if row["mishit"]:
        said.append("mishit")
    return ", ".join(said)


def best_lofts(grid: pl.DataFrame, shown: Shown) -> str:
    """Say which loft carries furthest at each of some attack angles (query carry_by_attack)."""
    told = [
        f"{row['attack_angle']:+.0f}° attack angle with {row['dynamic_loft']:.0f}° loft, {shown.value(row['carry'])}"
        for row in grid.gather_every(max(1, grid.height // 5)).iter_rows(named=True)
    ]
    return f"Best loft: {'; '.join(told)}."
