"""Air density against the standard atmosphere and CIPM-2007, by tables and by independent libraries."""

from __future__ import annotations

import ambiance
import numpy as np
import pytest
from CoolProp import HumidAirProp

from warehouse.domain.flight.air_density import density, moist_air_density


def test_density_by_altitude_is_the_standard_atmospheres():
    # ISO 2533 / US Standard Atmosphere 1976.
    np.testing.assert_allclose(density(altitude_m=[0, 1000, 1600, 2000]), [1.2250, 1.1117, 1.0476, 1.0066], atol=6e-5)


def test_density_by_altitude_is_that_of_an_independent_library():
    heights = np.linspace(-400, 4000, 45)
    np.testing.assert_allclose(density(altitude_m=heights), ambiance.Atmosphere(heights).density, rtol=1e-5)


def test_moist_air_has_the_published_densities():
    # CIPM-2007 at 20 °C, 101325 Pa, dry and at 50% humidity.
    np.testing.assert_allclose(moist_air_density(20, 101325, [0, 0.5]), [1.20456, 1.19931], atol=1e-5)


@pytest.mark.parametrize("celsius", [2.0, 15.0, 27.0, 38.0])
@pytest.mark.parametrize("pascal", [80000.0, 101325.0])
@pytest.mark.parametrize("humidity", [0.05, 0.5, 0.95])
def test_moist_air_has_the_density_of_an_independent_library(celsius, pascal, humidity):
    dry_volume, water = (
        HumidAirProp.HAPropsSI(name, "T", celsius + 273.15, "P", pascal, "R", humidity) for name in ("Vda", "W")
    )
    assert moist_air_density(celsius, pascal, humidity) == pytest.approx((1 + water) / dry_volume, rel=3e-4)


def test_what_is_measured_is_used_and_what_is_not_falls_back():
    np.testing.assert_allclose(
        density(altitude_m=[0, 0, 1600], temperature_c=[np.nan, 20, 20], relative_humidity=[0.5, np.nan, np.nan]),
        [1.225, 1.20456, moist_air_density(20, 83524, 0)], rtol=2e-4,
    )  # fmt: skip


def test_nothing_known_gives_nothing():
    assert np.isnan(density(altitude_m=np.nan))
    assert np.isnan(density(altitude_m=20000))
