"""Direct sunlight that a house catches and keeps, held against pvlib, plain geometry and traced rays."""

from __future__ import annotations

import math
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pytest
from pvlib import irradiance, solarposition

from controller.physics import cover
from controller.simulator.house import light
from tests.simulator.garden import settings, weather

if TYPE_CHECKING:
    from controller.settings.schema import House

    Floats = np.ndarray[Any, np.dtype[np.float64]]

FINE = 400  # faces of the ellipse in the sums of this file
RAYS, LEVELS = 80, 400  # rays each way, and looks at each of them
EAVES = math.pi / 2.0 - 1.0  # height of the walls of a pitched house over its ridge
DNI_W_M2 = 800.0


def house(**building: Any) -> House:
    """The garden's house with some values changed."""
    return settings().house.model_copy(update=building)


def vectors(zenith_deg: Floats, azimuth_deg: Floats) -> Floats:
    """Unit vectors east, north and up."""
    zenith, azimuth = np.radians(zenith_deg), np.radians(azimuth_deg)
    return np.array([np.sin(azimuth) * np.sin(zenith), np.cos(azimuth) * np.sin(zenith), np.cos(zenith)])


def sun_over(latitude: float, month: int, every: str = "10min") -> tuple[Floats, Floats]:
    """Zenith and azimuth (degrees) of the sun while it is more than 3° up on the 21st of a month."""
    looks = pd.date_range(f"2026-{month:02d}-21", periods=24 * 60, freq="1min", tz="UTC")
    found = solarposition.get_solarposition(looks, latitude, 0.0)[:: int(pd.Timedelta(every).seconds / 60)]
    found = found[found["elevation"] > 3.0]
    return found["zenith"].to_numpy(), found["azimuth"].to_numpy()


@pytest.mark.parametrize("axis_degrees", [90.0, 0.0, 30.0])
@pytest.mark.parametrize("month", [1, 7])
def test_a_tunnel_catches_what_pvlib_gives_its_faces(month: int, axis_degrees: float) -> None:
    """The sum of pvlib's beam on 400 flat faces and both ends, within 1 %, all day at 36° north."""
    building = house(axis_degrees=axis_degrees)
    zenith, azimuth = sun_over(36.1, month)
    half_m, ridge_m, length_m = 0.5 * building.width_m, building.ridge_m, building.length_m
    turn = math.pi * np.arange(FINE + 1) / FINE
    run_m, rise_m = np.diff(half_m * np.cos(turn)), np.diff(ridge_m * np.sin(turn))
    ends = [(90.0, axis_degrees + side, 0.5 * math.pi * half_m * ridge_m) for side in (0.0, 180.0)]
    sides = [
        (math.degrees(math.atan2(abs(rise), abs(run))), axis_degrees + 90.0 * np.sign(rise),
         math.hypot(run, rise) * length_m)
        for run, rise in zip(run_m, rise_m, strict=True)
    ]  # fmt: skip
    total_w = sum(
        area_m2 * irradiance.beam_component(tilt, facing % 360.0, zenith, azimuth, DNI_W_M2)
        for tilt, facing, area_m2 in ends + sides
    )
    here_w = DNI_W_M2 * light.beam_caught(building, vectors(zenith, azimuth)) * length_m * building.width_m
    assert here_w == pytest.approx(total_w, rel=0.01)


def test_an_endless_tunnel_casts_the_shadow_of_an_ellipse() -> None:
    """Across the ridge: a sin h + sqrt(a² sin² h + b² cos² h), its tangents; within 0.5 %."""
    building = house(length_m=1e4)
    height = np.radians(np.arange(5.0, 90.0, 5.0))
    sun = np.array([0.0 * height, -np.cos(height), np.sin(height)])
    half_m, ridge_m = 0.5 * building.width_m, building.ridge_m
    shadow_m = half_m * np.sin(height) + np.hypot(half_m * np.sin(height), ridge_m * np.cos(height))
    assert light.beam_caught(building, sun) == pytest.approx(shadow_m / building.width_m, rel=5e-3)


@pytest.mark.parametrize(
    ("months", "least", "most"), [((12, 1), 1.38, 1.55), ((3, 9), 1.05, 1.2), ((6, 7), 1.0, 1.08)]
)
def test_a_long_tunnel_catches_half_as_much_again_of_the_winter_beam(
    months: tuple[int, int], least: float, most: float
) -> None:
    """Over the level floor's share of the same beam, in the Carolina year, ridge from east to west."""
    year = weather()
    month = (np.datetime64("2026-01-01T00", "h") + np.arange(8760)).astype("M8[M]").astype(int) % 12 + 1
    beam = year.dni_w_m2 * np.isin(month, months)
    ratio = beam @ light.beam_caught(house(length_m=200.0), year.sun) / (beam @ year.sun[2])
    assert least < ratio < most


def test_the_hour_s_mean_sun_stands_for_its_minutes() -> None:
    """What steady beam leaves in the house, by hours of the Carolina year and by minutes: within 2 %."""
    year = weather()
    for start, hours in ((datetime(2026, 1, 21, 8), 8), (datetime(2026, 6, 21, 6), 12)):  # noqa: DTZ001
        first = int(year.seconds_into_year(start) / 3600.0) + 1
        hourly = light.beam_kept(house(), year.sun[:, first : first + hours])
        looks = pd.date_range(start.replace(tzinfo=year.zone), periods=60 * hours, freq="1min")
        found = solarposition.get_solarposition(looks, year.latitude, year.longitude)
        by_minute = light.beam_kept(house(), vectors(found["zenith"].to_numpy(), found["azimuth"].to_numpy()))
        assert hourly == pytest.approx(by_minute.reshape(hours, 60).mean(axis=1), rel=0.02)


def test_a_house_from_north_to_south_gets_more_light_except_in_winter() -> None:
    """More on the ground in March and June: Wang & Boulard 2000, Agronomie 20:41 (tunnels 8 m wide, Avignon).

    In December one from east to west gets more. Clear days: 0.7^(air mass^0.678) (Meinel & Meinel) [memory].
    """
    for month, more in ((3, True), (6, True), (12, False)):
        zenith, azimuth = sun_over(43.9, month)
        beam = 0.7 ** (1.0 / np.cos(np.radians(zenith))) ** 0.678
        tunnel = house(width_m=8.0, length_m=60.0, cover="single film", axis_degrees=0.0)
        turned = tunnel.model_copy(update={"axis_degrees": 90.0})
        sun = vectors(zenith, azimuth)
        south, east = (beam @ light.beam_kept(built, sun) for built in (tunnel, turned))
        assert (south > east) == more, month


def test_no_light_comes_from_below_and_a_high_sun_gives_what_the_cover_passes() -> None:
    """0 in the dark; in the zenith, light on the floor's area falls through the curved cover."""
    sun = np.array([[0.0, 0.0], [0.0, 0.0], [0.0, 1.0]])
    kept = light.beam_kept(house(), sun)
    _, normal, layers = cover.COVERS["double film"]
    assert kept[0] == 0.0
    assert cover.diffuse_transmittance(normal, layers) < kept[1] < normal


def test_a_pitched_house_has_the_section_of_the_tunnel() -> None:
    """Walls and roof of a glass house enclose half an ellipse's area, and its faces do not overlap."""
    for name in cover.COVERS:
        faces = light.faces_of(house(cover=name))
        ends_m2 = faces.area_m2[faces.normal[0] > 0.5].sum()
        assert ends_m2 == pytest.approx(math.pi / 4.0 * house().width_m * house().ridge_m, rel=3e-3)
        assert np.linalg.norm(faces.normal, axis=0) == pytest.approx(1.0)
        assert faces.normal @ faces.area_m2 == pytest.approx(
            [0.0, 0.0, house().length_m * house().width_m], abs=1e-6
        )


@pytest.mark.parametrize(("name", "near"), [("double film", 0.02), ("single glass", 0.08)])
@pytest.mark.parametrize(("zenith_deg", "azimuth_deg"), [(60.0, 180.0), (75.0, 130.0), (30.0, 200.0)])
def test_what_stays_is_what_traced_rays_leave(
    name: str, near: float, zenith_deg: float, azimuth_deg: float
) -> None:
    """Rays that each find their own way in and out: within 2 % under film, 8 % under a pitched roof."""
    building = house(cover=name)
    sun = vectors(np.array([zenith_deg]), np.array([azimuth_deg]))
    traced = rays_kept(building, light.to_house(sun, building.axis_degrees)[:, 0])
    assert light.beam_kept(building, sun)[0] == pytest.approx(traced, rel=near)


def rays_kept(building: House, to_sun: Floats) -> float:
    """Light that stays, over direct radiation and floor area, by rays aimed at an even grid on the ground.

    A ray enters where it first meets the shell from above and leaves where it meets it again, unless it
    meets floor or crop in between.
    """
    _, normal, layers = cover.COVERS[building.cover]
    half_m, ridge_m, end_m = 0.5 * building.width_m, building.ridge_m, 0.5 * building.length_m
    steps = np.linspace(-1.0, 1.0, RAYS)
    reach_m = np.array([end_m, half_m]) + 1.01 * ridge_m / to_sun[2] * np.abs(to_sun[:2])
    start = np.array([*np.meshgrid(reach_m[0] * steps, reach_m[1] * steps), np.zeros((RAYS, RAYS))])
    heights_m = (np.arange(LEVELS) + 0.5) / LEVELS * ridge_m
    points = start.reshape(3, -1, 1) + (to_sun / to_sun[2])[:, None, None] * heights_m
    inside = (np.abs(points[0]) < end_m) & (np.abs(points[1]) < outline(building, heights_m))
    points, inside = points[:, inside.any(axis=1)], inside[inside.any(axis=1)]
    ray, first = np.arange(len(inside)), np.argmax(inside, axis=1)
    last = LEVELS - 1 - np.argmax(inside[:, ::-1], axis=1)
    enters = [float(to_sun @ facing(building, point)) for point in points[:, ray, last].T]
    leaves = [-float(to_sun @ facing(building, point)) for point in points[:, ray, first].T]
    kept = [
        cover.beam_transmittance(come, normal, layers)
        * (1.0 - (cover.unabsorbing_transmittance(go, layers) if low_m > light.CROP_HEIGHT_M else 0.0))
        for come, go, low_m in zip(enters, leaves, heights_m[first], strict=True)
    ]
    cell_m2 = np.prod(reach_m) * (steps[1] - steps[0]) ** 2
    return float(sum(kept) * cell_m2 * to_sun[2] / (building.length_m * building.width_m))


def outline(building: House, height_m: Floats) -> Floats:
    """Half the width of the house at a height: an ellipse under film, walls and a pitched roof otherwise."""
    half_m, share = 0.5 * building.width_m, height_m / building.ridge_m
    if "film" in building.cover:
        return half_m * np.sqrt(1.0 - share**2)
    return half_m * np.clip((1.0 - share) / (1.0 - EAVES), 0.0, 1.0)


def facing(building: House, point: Floats) -> Floats:
    """Outward normal of the face of the shell that a point just inside it lies nearest to."""
    half_m, ridge_m = 0.5 * building.width_m, building.ridge_m
    if "film" in building.cover:
        normal = np.array([0.0, point[1] / half_m**2, point[2] / ridge_m**2])
    elif point[2] < EAVES * ridge_m:
        normal = np.array([0.0, np.sign(point[1]), 0.0])
    else:
        normal = np.array([0.0, np.sign(point[1]) * (1.0 - EAVES) * ridge_m, half_m])
    normal /= np.linalg.norm(normal)
    deep_m = (outline(building, point[2]) - abs(point[1])) * abs(normal[1])
    if 0.5 * building.length_m - abs(point[0]) < deep_m:
        return np.array([np.sign(point[0]), 0.0, 0.0])
    return normal
