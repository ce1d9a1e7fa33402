"""Density of the air a ball flies through.

From altitude alone by the standard atmosphere; from temperature, pressure and humidity by CIPM-2007. Not here: where
the bay is or whether it is indoors.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

SEA_LEVEL_TEMPERATURE, SEA_LEVEL_PRESSURE, LAPSE = 288.15, 101325.0, 0.0065
EARTH_RADIUS, GRAVITY, GAS_CONSTANT_AIR = 6356766.0, 9.80665, 287.05287
EXPONENT = GRAVITY / (GAS_CONSTANT_AIR * LAPSE)


def standard_temperature(altitude_m: ArrayLike) -> Floats:
    """Return the standard atmosphere's temperature (K) at an altitude in m, -2000 to 11000 (ISO 2533); else NaN."""
    height = np.asarray(altitude_m, dtype=np.float64)
    potential = EARTH_RADIUS * height / (EARTH_RADIUS + height)
    return np.where((height >= -2000) & (height <= 11000), SEA_LEVEL_TEMPERATURE - LAPSE * potential, np.nan)


def standard_pressure(altitude_m: ArrayLike) -> Floats:
    """Return the standard atmosphere's pressure (Pa) at an altitude in m (ISO 2533)."""
    return SEA_LEVEL_PRESSURE * (standard_temperature(altitude_m) / SEA_LEVEL_TEMPERATURE) ** EXPONENT


def moist_air_density(temperature_c: ArrayLike, pressure_pa: ArrayLike, relative_humidity: ArrayLike) -> Floats:
    """Return the density of moist air (kg/m^3) by CIPM-2007.

    Parameters
    ----------
    temperature_c, pressure_pa, relative_humidity : array_like
        °C, Pa, and a share from 0 to 1. Carbon dioxide is taken as 400 parts per million.

    Notes
    -----
    Picard, Davis, Glaser & Fujii, Metrologia 45 (2008) 149. Its stated range is 15 to 27 °C and 600 to 1100 hPa; past
    it the form holds to well under 0.1% over golfing weather.
    """
    celsius = np.asarray(temperature_c, dtype=np.float64)
    pressure = np.asarray(pressure_pa, dtype=np.float64)
    humidity = np.asarray(relative_humidity, dtype=np.float64)
    kelvin = celsius + 273.15
    saturated = np.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)
    enhancement = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius**2
    vapour = humidity * enhancement * saturated / pressure
    ratio = pressure / kelvin
    compressibility = (
        1.0
        - ratio
        * (
            1.58123e-6
            - 2.9331e-8 * celsius
            + 1.1043e-10 * celsius**2
            + (5.707e-6 - 2.051e-8 * celsius) * vapour
            + (1.9898e-4 - 2.376e-6 * celsius) * vapour**2
        )
        + ratio**2 * (1.83e-11 - 0.765e-8 * vapour**2)
    )
    return 3.483740e-3 * ratio / compressibility * (1.0 - 0.3780 * vapour)


def density(
    *,
    altitude_m: ArrayLike = 0.0,
    temperature_c: ArrayLike = np.nan,
    pressure_pa: ArrayLike = np.nan,
    relative_humidity: ArrayLike = np.nan,
) -> Floats:
    """Return the density of the air (kg/m^3) from whatever is known, element by element.

    Parameters
    ----------
    altitude_m : array_like
        Altitude of the site, m.
    temperature_c, pressure_pa, relative_humidity : array_like
        °C, Pa (at the site, not reduced to sea level), a share from 0 to 1; NaN where not measured.

    Returns
    -------
    ndarray
        Without a temperature: the standard atmosphere at that altitude, or NaN where the altitude is NaN. With one:
        CIPM-2007 with the measured pressure, else the standard pressure of that altitude, and the measured humidity,
        else dry air (50% humidity at 20 °C would be 0.4% thinner).
    """
    altitude, celsius, pressure, humidity = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (altitude_m, temperature_c, pressure_pa, relative_humidity))
    )
    kelvin, at_altitude = standard_temperature(altitude), standard_pressure(altitude)
    standard = at_altitude / (GAS_CONSTANT_AIR * kelvin)
    measured = moist_air_density(
        celsius, np.where(np.isnan(pressure), at_altitude, pressure), np.where(np.isnan(humidity), 0.0, humidity)
    )
    return np.where(np.isnan(celsius), standard, measured)
