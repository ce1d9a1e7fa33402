"""Which air each shot flew through: the bay's set air, else what its export measured, else the standard atmosphere's.

Indoors a measured temperature says nothing of the air in which the device reckons its carry, so an indoor bay has the
standard atmosphere at its site's altitude unless its air is set. Not here: the density of given air (air).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.flight import air_density

Floats = NDArray[np.float64]

PA_PER_HPA, SHARE_PER_PERCENT = 100.0, 0.01
MEASURED = ("air_temperature", "air_pressure", "air_humidity")


def air_densities(shots: pl.DataFrame, set_for_bay: Mapping[str, float] | None = None) -> Floats:
    """Return the density (kg/m^3) of the air that each shot is flown through by the model.

    Parameters
    ----------
    shots : polars.DataFrame
        bay_id, setting ('indoor' or 'outdoor'), altitude_m; air_temperature (degC), air_pressure (hPa, at the bay, not
        reduced to sea level), air_humidity (%), null where not measured.
    set_for_bay : mapping, optional
        bay_id -> kg/m^3, for bays whose air is set.

    Returns
    -------
    ndarray
        Without a temperature, pressure and humidity say too little and the standard atmosphere is taken. NaN where
        nothing is measured and the altitude is unknown.
    """
    altitudes = shots["altitude_m"].unique()
    standard = pl.DataFrame({"altitude_m": altitudes, "density": air_density.density(altitude_m=altitudes.to_numpy())})
    bays = pl.DataFrame(
        list((set_for_bay or {}).items()), {"bay_id": pl.String, "set_density": pl.Float64}, orient="row"
    )
    density = (
        shots.select("bay_id", "altitude_m")
        .join(standard, on="altitude_m", how="left", nulls_equal=True, maintain_order="left")
        .join(bays, on="bay_id", how="left", maintain_order="left")
        .select(pl.coalesce("set_density", "density").fill_null(float("nan")))
        .to_series()
        .to_numpy()
        .copy()
    )
    if shots["air_temperature"].null_count() == shots.height:
        return density
    known = shots["air_temperature"].is_not_null() & (shots["setting"] == "outdoor")
    known &= ~shots["bay_id"].is_in(list(set_for_bay or {}))
    told = shots.filter(known)
    celsius, hectopascal, percent = (told[name].cast(pl.Float64).fill_null(np.nan).to_numpy() for name in MEASURED)
    density[known.to_numpy()] = air_density.density(
        altitude_m=told["altitude_m"].cast(pl.Float64).fill_null(np.nan).to_numpy(),
        temperature_c=celsius, pressure_pa=PA_PER_HPA * hectopascal, relative_humidity=SHARE_PER_PERCENT * percent,
    )  # fmt: skip
    return density
