"""What surrounds each segment in a place: the suit's wall and air, or the open air.

The wall of each region is one node inside its insulation. It meets the skin (contact and
radiation across the gap), the suit's air, and through insulation and outer film the outside; sun
warms the outer face, and the share that passes inward is what the wall gets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from neckring.body import anatomy
from neckring.body.surface import CLO, LEWIS_RATIO, clothing_area_factor
from neckring.outing.batch import Rows
from neckring.outing.bodies import bare_surroundings
from neckring.outing.scenario import Scenario
from neckring.outing.wearing import WALL_FILM, WALL_REGIONS, person_of
from neckring.station.site import Place

FloatArray = NDArray[np.float64]

# Radiative film of the outer face [W/(m2 K)]; ISO 7730 via Takahashi et al. 2021.
RADIATIVE_FILM = 4.7
# No film is quite nothing [W/(m2 K)].
LEAST_FILM = 1e-3
# Share of the horizontal irradiance that falls on the mean square metre of a standing suit;
# assumed: 0.25 direct (Fanger 1970, projected area factor) and 0.15 from sky and ground.
SUN_SHARE = 0.4


@dataclass(frozen=True)
class Weather:
    """Conditions of a place for all members, each shape (members,), SI.

    Attributes:
        air: Air temperature [degC].
        humidity: Relative humidity, 0..1.
        radiant: Mean radiant temperature [degC].
        speed: Air speed over the suit, with the wearer's own [m/s].
        sun: Irradiance on level ground [W/m2].
    """

    air: FloatArray
    humidity: FloatArray
    radiant: FloatArray
    speed: FloatArray
    sun: FloatArray


def weather(scenario: Scenario, places: list[Place], walking: FloatArray) -> Weather:
    """Mean conditions over places (one to stand in, two to walk between) at a walking speed."""

    def mean(name: str) -> FloatArray:
        values = [scenario.of(getattr(place, name)) for place in places]
        return np.asarray(np.mean(values, axis=0))

    radiant = [scenario.of(place.radiant_temperature or place.air_temperature) for place in places]
    return Weather(
        air=mean("air_temperature"),
        humidity=mean("relative_humidity"),
        radiant=np.asarray(np.mean(radiant, axis=0)),
        speed=np.hypot(mean("wind"), walking),
        sun=mean("sun"),
    )


def outer_film(speed: FloatArray) -> FloatArray:
    """Convective film of the suit's outer face [W/(m2 K)] at an air speed [m/s].

    Source: whole-body coefficient of the two-node model, 8.6 v**0.53 but at least 3; Gagge,
        Fobelets and Berglund 1986.
    """
    return np.maximum(3.0, 8.600001 * speed**0.53)


def suit_surroundings(scenario: Scenario, around: Weather) -> dict[str, FloatArray]:
    """Around-rows of a body in the closed suit, each shape (17, members)."""
    area = anatomy.segment_areas(person_of(scenario))
    suit, of = scenario.suit, scenario.of
    dry, wet, contact = inner_conductances(scenario)
    film = outer_film(around.speed)
    clo, absorbed = wall_values(scenario)
    outer = area * clothing_area_factor(clo) / (CLO * clo + 1.0 / (film + RADIATIVE_FILM))
    operative = (film * around.air + RADIATIVE_FILM * around.radiant) / (film + RADIATIVE_FILM)
    warmed = operative - around.air + absorbed * SUN_SHARE * around.sun / (film + RADIATIVE_FILM)
    reached = of(suit.air.evaporation_effectiveness)
    return {
        "GAS_CONDUCTANCE": area * dry,
        "GAS_VAPOUR_CONDUCTANCE": area * wet * reached,
        "SKIN_WALL": area * contact,
        "WALL_GAS": area * WALL_FILM,
        "WALL_OUTSIDE": outer,
        "WALL_SUN": outer * warmed,
        "DIRECT_CONDUCTANCE": 0.0 * area,
        "DIRECT_TEMPERATURE": 0.0 * area,
        "DIRECT_VAPOUR_CONDUCTANCE": 0.0 * area,
    }


def inner_conductances(scenario: Scenario) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Per area of skin, shape (17, members) each, through underwear (head and neck have none).

    Returns:
        Heat to the suit's air [W/(m2 K)], latent heat to it [W/(m2 Pa)], heat straight to the wall
        [W/(m2 K)].

    Source: resistances in series; vapour resistance of a fabric from its permeability index,
        R/(Lewis ratio x index), ISO 9920.
    """
    inner, of = scenario.suit.inner, scenario.of
    film = np.ones((17, 1)) * of(inner.air_gap_conductance)
    film[:2] = of(scenario.suit.visor.inner_conductance)
    film = np.maximum(film, LEAST_FILM)
    underwear = np.ones((17, 1)) * of(inner.underwear_insulation)
    underwear[:2] = 0.0
    index = of(inner.vapour_permeability_index)
    dry = 1.0 / (1.0 / film + underwear)
    # Fabric that lets no vapour through at all takes evaporation away.
    resistance = 1.0 / (LEWIS_RATIO * film) + underwear / (LEWIS_RATIO * np.maximum(index, 1e-6))
    direct = of(inner.direct_conductance)
    contact = direct / (1.0 + direct * underwear)
    return dry, 1.0 / resistance, contact


def wall_values(scenario: Scenario) -> tuple[FloatArray, FloatArray]:
    """Insulation [clo] and absorbed share of sun of the wall on each segment, (17, members)."""
    clo = np.zeros((17, scenario.members))
    absorbed = np.zeros((17, scenario.members))
    for region, places in WALL_REGIONS.items():
        wall = getattr(scenario.suit.wall, region)
        # Quantities are SI inside: insulation in m2 K/W.
        clo[list(places)] = scenario.of(wall.insulation) / CLO
        absorbed[list(places)] = scenario.of(wall.sun_absorbed)
    return clo, absorbed


def bare_head(
    scenario: Scenario, rows: dict[str, FloatArray], around: Weather, pressure: FloatArray
) -> dict[str, FloatArray]:
    """The same with head and neck out of the helmet, in the open air."""
    person = person_of(scenario)
    bare: Rows = bare_surroundings(
        person,
        "standing",
        around.air,
        around.radiant,
        around.speed,
        np.zeros((17, scenario.members)),
        pressure,
    )
    opened = {name: values.copy() for name, values in rows.items()}
    for name in ("GAS_CONDUCTANCE", "GAS_VAPOUR_CONDUCTANCE", "SKIN_WALL", "WALL_GAS"):
        opened[name][:2] = 0.0
    for name, values in bare.items():
        opened[name][:2] = values[:2]
    return opened


def visor_outside(scenario: Scenario, around: Weather) -> FloatArray:
    """Conductance from the visor's inner face to the outside [W/K], shape (members,)."""
    visor, of = scenario.suit.visor, scenario.of
    film = outer_film(around.speed) + RADIATIVE_FILM
    return of(visor.area) / (1.0 / of(visor.wall_conductance) + 1.0 / film)
