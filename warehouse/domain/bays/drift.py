"""Does a bay wander? Weekly offsets against the bay's own offset, watched by a tabular CUSUM.

Each week's deviation is what the bay's sessions of that week leave after student x club effects, the trend and the
bay's offset. A recalibration starts the sums again. Over a year many bays times many metrics would alarm by luck: at
h = 5 a series about its known mean does so every 465 weeks, one about its own mean later, the shorter it is the more
so. A bay is therefore called drifting when its sum passes h *and* its chance (`chance`) passes Benjamini & Hochberg at
.05 over all bays and metrics; in a term's weeks whatever passes h passes that too. Not here: the offsets themselves
(`bay_offset`).
"""

from __future__ import annotations

import numpy as np
import polars as pl

from warehouse.domain.bays.fit import (
    Floats,
    Ints,
    MetricSessions,
    absorb,
    between_sessions,
    dummies,
    hand_sign,
    prepare,
    with_epochs,
)
from warehouse.domain.statistics.false_discovery import q_values

SLACK, LIMIT = 0.5, 5.0
OVERSHOOT = 1.166
"""What a sum is past its limit when it first passes it, on both sides of it: Siegmund (1985)."""
LUCK = 0.05
STEPS = 400
"""Shares of a series tried as the stretch in which it left its mean."""
KEY = ["bay_id", "metric", "from_date"]
SCHEMA = {
    "bay_id": pl.String,
    "metric": pl.String,
    "from_date": pl.Date,
    "week": pl.Date,
    "weekly_offset": pl.Float64,
    "standard_error": pl.Float64,
    "sessions": pl.Int64,
    "cusum_high": pl.Float64,
    "cusum_low": pl.Float64,
    "drifting": pl.Boolean,
}


def cusum(standardised: Floats, slack: float = SLACK) -> tuple[Floats, Floats]:
    """Tabular CUSUM of standardised deviations, both sides.

    Parameters
    ----------
    standardised : array (n,)
        (value - target) / standard error, in time order.
    slack : float
        The reference value k, in standard errors.

    Returns
    -------
    high, low : arrays (n,)
        High_i = max(0, z_i - k + High_{i-1}), Low_i = max(0, -z_i - k + Low_{i-1}); Page (1954).
    """
    high, low = np.zeros(standardised.size), np.zeros(standardised.size)
    up = down = 0.0
    for i, z in enumerate(standardised):
        up, down = max(0.0, z - slack + up), max(0.0, -z - slack + down)
        high[i], low[i] = up, down
    return high, low


def run_length(limit: Floats, slack: float = SLACK) -> Floats:
    """Average run length in control of the two-sided CUSUM with this limit: Siegmund (1985), both sides combined."""
    # Past 500 it is never, and exp would overflow.
    reach = np.minimum(np.asarray(limit, dtype=float), 500.0) + OVERSHOOT
    one_side = (np.exp(2 * slack * reach) - 2 * slack * reach - 1) / (2 * slack**2)
    return one_side / 2


def chance(peak: Floats, weeks: Floats, slack: float = SLACK) -> Floats:
    """Return how likely a steady bay's CUSUM about its own mean over these weeks reaches this peak.

    A sum over m weeks that passes h has passed h + k m; about a known mean its variance is m, about the mean of all n
    weeks m (1 - m/n). The likeliest m decides (large deviations): exp(-min (h + k m)^2 / (2 m (1 - m/n))) in place of
    exp(-2 k h), to which it comes for many weeks, per run length of the known mean. The factor (1 - m/n)^-3 was found
    on simulated series: with it one in a hundred is one in 70 over 14 weeks and one in 95 over a year or two.
    """
    reach = np.minimum(np.asarray(peak, dtype=float), 500.0) + OVERSHOOT
    run = np.geomspace(1e-4, 0.99, STEPS)[:, None]
    spans = np.asarray(weeks, dtype=float) * run
    hardness = (reach + slack * spans) ** 2 / (2 * spans * (1 - run)) + 3 * np.log1p(-run)
    expected = weeks / run_length(peak, slack) * np.exp(2 * slack * reach - hardness.min(axis=0))
    return np.asarray(-np.expm1(-expected))


def flag(sessions: pl.DataFrame, offsets: pl.DataFrame, events: pl.DataFrame | None = None) -> pl.DataFrame:
    """Weekly offsets of every bay and metric with their CUSUM.

    Parameters
    ----------
    sessions, events : polars.DataFrame
        As `bay_offset.fit` takes them.
    offsets : polars.DataFrame
        `bay_id, metric, from_date, bay_offset`; bays with a null offset are left out.

    Returns
    -------
    polars.DataFrame
        A row per bay, epoch, metric and week with sessions: `bay_id, metric, from_date, week` (Monday),
        `weekly_offset, standard_error` (metric's unit, bay's own frame), `sessions, cusum_high, cusum_low` (standard
        errors), `drifting` (the sum had passed the limit by this week, and luck over all bays does not explain it).
    """
    known = offsets.filter(pl.col("bay_offset").is_not_null()).select(*KEY, "bay_offset")
    usable = sessions.filter(pl.col("centre").is_finite() & (pl.col("shots") > 0))
    placed = with_epochs(usable, events).join(known, on=KEY, nulls_equal=True)
    parts = [_weeks(part, str(metric)) for (metric,), part in placed.group_by(["metric"], maintain_order=True)]
    if not parts:
        return pl.DataFrame(schema=SCHEMA)
    weeks = pl.concat(parts).sort(*KEY, "week")
    if weeks.is_empty():  # An academy's first week has nothing to be compared with.
        return pl.DataFrame(schema=SCHEMA)
    series = [_series(part) for _, part in weeks.group_by(KEY, maintain_order=True)]
    return _control_luck(pl.concat(series)).select(pl.col(name).cast(kind) for name, kind in SCHEMA.items())


def latest(history: pl.DataFrame) -> pl.DataFrame:
    """Return `bay_id, metric, from_date, drifting`: whether each epoch ended up called drifting."""
    return history.group_by(KEY).agg(pl.col("drifting").any())


def _weeks(rows: pl.DataFrame, metric: str) -> pl.DataFrame:
    """Return one metric's weekly deviations from the bays' offsets, with their standard errors."""
    epochs = rows.select("bay_id", "from_date").unique().sort("bay_id", "from_date").with_row_index("epoch")
    rows = rows.join(epochs, on=["bay_id", "from_date"], nulls_equal=True)
    rows = rows.with_columns(centre=pl.col("centre") - hand_sign(metric) * pl.col("bay_offset"))
    data = prepare(rows, metric)
    monday = rows["week"].cast(pl.Date).min()
    weeks = int(data.week.max()) + 1
    cell = data.epoch * weeks + data.week
    deviation, error, seen = _deviations(data, cell, epochs.height * weeks)
    used = np.flatnonzero(np.isfinite(error))
    table = pl.DataFrame({"epoch": used // weeks, "_week": used % weeks, "sessions": seen[used]}).with_columns(
        pl.col("epoch").cast(pl.UInt32),
        deviation=deviation[used],
        standard_error=error[used],
        week=pl.lit(monday) + pl.duration(days=7 * pl.col("_week")),
    )
    offset = rows.group_by("epoch").agg(pl.col("bay_offset").first())
    return table.join(epochs, on="epoch").join(offset, on="epoch").with_columns(pl.lit(metric).alias("metric"))


def _deviations(data: MetricSessions, cell: Ints, cells: int) -> tuple[Floats, Floats, Ints]:
    """Return deviation, standard error (nan where nothing carries it) and sessions per cell of bay epoch x week.

    One week at a time against all others of its bay (the added-variable estimate): the residuals' weighted sum over
    the information that week holds after student x club effects, all bays' means and the trend are taken out together.
    """
    weight = data.shots
    for final in (False, True):
        columns = absorb(np.column_stack([data.trend, data.centre]), data.group, weight)
        root = np.sqrt(weight)[:, None]
        slope = np.linalg.lstsq(columns[:, :-1] * root, columns[:, -1] * root[:, 0], rcond=None)[0]
        residual = columns[:, -1] - columns[:, :-1] @ slope
        if not final:
            between = between_sessions(residual, data, weight, data.trend.shape[1])
            weight = 1 / np.maximum(between + data.noise, 1e-12)
    information = _information(data, cell, cells, weight)
    carried = information > 1e-3 * np.maximum(np.bincount(cell, weight, cells), 1e-300)
    score = np.bincount(cell, weight * residual, cells)
    deviation = np.divide(score, information, out=np.full(cells, np.nan), where=carried)
    error = np.divide(1.0, np.sqrt(np.maximum(information, 1e-300)), out=np.full(cells, np.nan), where=carried)
    standardised = (deviation / error)[carried]
    # Weeks scatter more than sessions alone say (form that lasts days): scale by their own robust spread.
    excess = np.median(np.abs(standardised)) / 0.6745 if standardised.size > 20 else 1.0
    return deviation, error * max(float(excess), 1.0), np.bincount(cell, minlength=cells)


def _information(data: MetricSessions, cell: Ints, cells: int, weight: Floats) -> Floats:
    """What each cell holds alone, (cells,): its weight less what student x club, bays and trend explain of it.

    Taken out one after the other they would take twice what they share: a week of few students would hold next to
    nothing and its deviation be out of all bounds.
    """
    from scipy import sparse

    own, epochs = np.bincount(cell, weight, cells), int(data.epoch.max()) + 1
    met = sparse.csr_matrix((weight, (cell, data.group)), shape=(cells, int(data.group.max()) + 1))
    share = met @ sparse.diags(1 / np.sqrt(np.bincount(data.group, weight)))
    bay = dummies(np.arange(cells) // (cells // epochs), epochs)
    trend = absorb(data.trend, data.group, weight)
    in_cell = sparse.csr_matrix((weight, (cell, np.arange(cell.size))), shape=(cells, cell.size)) @ trend
    of_bay = own[:, None] * bay - share @ (share.T @ bay)
    known = np.column_stack([of_bay, in_cell])
    inner = np.block([[bay.T @ of_bay, bay.T @ in_cell], [in_cell.T @ bay, trend.T @ (trend * weight[:, None])]])
    inverse = np.linalg.pinv(inner, rcond=1e-9, hermitian=True)
    alone = own - np.asarray(share.power(2).sum(axis=1)).ravel()
    return np.asarray(alone - np.einsum("ij,jk,ik->i", known, inverse, known))


def _series(part: pl.DataFrame) -> pl.DataFrame:
    high, low = cusum((part["deviation"] / part["standard_error"]).to_numpy())
    peak = np.maximum.accumulate(np.maximum(high, low))
    return part.with_columns(
        pl.Series("cusum_high", high),
        pl.Series("cusum_low", low),
        pl.Series("_peak", peak),
        weekly_offset=pl.col("bay_offset") + pl.col("deviation"),
    )


def _control_luck(weeks: pl.DataFrame) -> pl.DataFrame:
    """Call a series drifting where its peak passes the limit and its chance passes the false-discovery rate."""
    peaks = weeks.group_by(KEY, maintain_order=True).agg(pl.col("_peak").max(), pl.len().alias("_weeks"))
    luck = q_values(chance(peaks["_peak"].to_numpy(), peaks["_weeks"].to_numpy()))
    peaks = peaks.with_columns(pl.Series("_q", luck)).select(*KEY, "_q")
    return weeks.join(peaks, on=KEY, nulls_equal=True, maintain_order="left").with_columns(
        drifting=(pl.col("_peak") > LIMIT) & (pl.col("_q") <= LUCK)
    )
