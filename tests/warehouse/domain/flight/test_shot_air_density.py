"""Which air a shot flew through, against CoolProp (humid air, IAPWS and ASHRAE formulations) and the ISO atmosphere."""

from __future__ import annotations

import math

import polars as pl
import pytest
from CoolProp.HumidAirProp import HAPropsSI

from warehouse.domain.flight.shot_air_density import air_densities

SHOT = {
    "bay_id": "B1", "setting": "outdoor", "altitude_m": 0.0, "air_temperature": None, "air_pressure": None,
    "air_humidity": None,
}  # fmt: skip
SCHEMA = {name: pl.String if name in ("bay_id", "setting") else pl.Float64 for name in SHOT}


def densities(*changes, **options):
    return air_densities(pl.DataFrame([SHOT | change for change in changes], schema=SCHEMA), **options).tolist()


def test_without_measurements_it_is_the_standard_atmosphere_at_the_sites_altitude():
    # ISO 2533: 1.2250, 1.1117, 1.0476, 1.0066 kg/m^3 at 0, 1000, 1600, 2000 m.
    altitudes = [{"altitude_m": float(metres)} for metres in (0, 1000, 1600, 2000)]
    assert densities(*altitudes) == pytest.approx([1.2250, 1.1117, 1.0476, 1.0066], abs=1e-4)


def test_outdoors_what_the_export_measured_is_taken_in_its_units():
    hot = {"air_temperature": 35.0, "air_pressure": 985.0, "air_humidity": 60.0}
    published = 1 / HAPropsSI("V", "T", 308.15, "P", 98500.0, "R", 0.60)  # m^3 a kg of dry air
    water = HAPropsSI("W", "T", 308.15, "P", 98500.0, "R", 0.60)
    assert densities(hot, {}) == pytest.approx([published * (1 + water), 1.225], rel=5e-4)


def test_a_missing_pressure_is_the_altitudes_and_a_missing_humidity_is_dry():
    (at_height,) = densities({"altitude_m": 1600.0, "air_temperature": 4.6})
    assert at_height == pytest.approx(1.0476, rel=2e-3)  # ISO 2533 at 1600 m: 277.75 K


def test_pressure_or_humidity_without_a_temperature_say_too_little():
    assert densities({"air_pressure": 950.0, "air_humidity": 90.0}) == pytest.approx([1.225], abs=1e-4)


def test_indoors_it_is_standard_air_whatever_the_export_says():
    assert densities({"setting": "indoor", "air_temperature": 40.0}) == pytest.approx([1.225], abs=1e-4)


def test_air_that_is_set_for_a_bay_goes_before_all_else_indoors_and_out():
    shots = [{"air_temperature": 40.0}, {"bay_id": "B2", "setting": "indoor"}, {"bay_id": "B3"}]
    assert densities(*shots, set_for_bay={"B1": 1.1, "B2": 1.2}) == pytest.approx([1.1, 1.2, 1.225], abs=1e-4)


def test_an_unknown_altitude_is_unknown_air_unless_it_was_measured():
    unknown, measured = densities(
        {"altitude_m": None}, {"altitude_m": None, "air_temperature": 15.0, "air_pressure": 1013.25}
    )
    assert math.isnan(unknown)
    assert measured == pytest.approx(1.225, rel=1e-3)
