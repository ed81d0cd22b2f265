"""How wood moves with the air it lives in: shrinkage of species, equilibrium moisture content, change of size.

Figures and equations are those of the Wood Handbook (USDA Forest Products Laboratory, FPL-GTR-190, 2010; chapters 4
and 13), as far as they could be read; each figure says whether it was read there, worked out, or given from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from preview.errors import PreviewError, nearest

Status = Literal["published", "published elsewhere", "from memory", "link formula"]
"""Read in the handbook; read in another text that quotes it; from memory; worked out from the shrinkage."""

FIBER_SATURATION = 30.0
"""Moisture content, %, above which wood does not swell; the equations end there."""
NEARLY_STRAIGHT = (6.0, 14.0)
"""Moisture contents, %, between which a change of size is taken as straight (equation 13-2)."""
LEAST_HUMIDITY, MOST_HUMIDITY = 5.0, 95.0
LEAST_TEMPERATURE, MOST_TEMPERATURE = (30.0 - 32.0) / 1.8, (270.0 - 32.0) / 1.8
"""Degrees Celsius: 30 to 270 degrees Fahrenheit, where the handbook's table 4-2 begins and ends."""

SHRINKAGE = "Wood Handbook (FPL-GTR-190) table 4-3"
COEFFICIENT = "Wood Handbook (FPL-GTR-190) table 13-5"
LINK = "worked out from the shrinkage by equation 13-3 at 10 % moisture content"


@dataclass(frozen=True)
class Figure:
    """A number with how it is known and where it comes from."""

    value: float
    status: Status
    source: str


@dataclass(frozen=True)
class Species:
    """How a wood moves.

    shrink_radial, shrink_tangential: % from green to ovendry, None where not known. radial, tangential: change
    coefficients, the part of the size for each % of moisture content, across quarter-sawn and across flat-sawn boards.
    gravity: specific gravity at 12 %, None where not known.
    """

    name: str
    shrink_radial: Figure | None
    shrink_tangential: Figure | None
    radial: Figure
    tangential: Figure
    gravity: Figure | None = None


def coefficient_of(shrinkage: float) -> float:
    """The change coefficient that belongs to a shrinkage (%, green to ovendry): equation 13-3 at 10 % moisture.

    It gives 65 of 66 printed coefficients of table 13-5 from table 4-3, to five decimals.

    >>> round(coefficient_of(7.1), 5)
    0.00248
    """
    part = shrinkage / (100.0 * FIBER_SATURATION)
    return part / (1.0 - 20.0 * part)


def shrinkage_of(coefficient: float) -> float:
    """The shrinkage, % from green to ovendry, that belongs to a change coefficient: `coefficient_of` read backward."""
    return 100.0 * FIBER_SATURATION * coefficient / (1.0 + 20.0 * coefficient)


def _told(value: float, source: str) -> Figure:
    return Figure(value, "published elsewhere", source)


def _entry(
    name: str,
    shrinkage: tuple[float, float] | None,
    coefficients: tuple[float, float] | None,
    gravity: Figure | None = None,
    *,
    shrinkage_is: Status = "published",
    radial_is: Status = "published",
    tangential_is: Status = "published",
    source: str = SHRINKAGE,
) -> Species:
    """A species; coefficients that are not given are worked out from its shrinkage."""
    shrinks = [Figure(value, shrinkage_is, source) for value in shrinkage or ()]
    if coefficients is None:
        radial, tangential = (Figure(round(coefficient_of(each.value), 5), "link formula", LINK) for each in shrinks)
    else:
        radial, tangential = (
            Figure(value, status, _COEFFICIENT_FROM.get(status, COEFFICIENT))
            for value, status in zip(coefficients, (radial_is, tangential_is), strict=True)
        )
    first, second = shrinks or (None, None)
    return Species(name, first, second, radial, tangential, gravity)


_COEFFICIENT_FROM: dict[Status, str] = {
    "link formula": LINK,
    "published elsewhere": "two flooring pages that quote Agriculture Handbook 72",
}
_WENGERT = "E. Wengert, Predictors of strength and density, quoting Agriculture Handbook 72"
_STRENGTH = "Tree species strength properties, a table after the Wood Handbook"
_EXTENSION = "Oregon Wood Innovation Center; TM 5-852-4 table 2-2"
_YARD = "a lumber yard's data sheet for yellow-poplar"
_TRADE = "two timber merchants' data pages, after the Wood Handbook"
_MEMORY = "from memory, to be looked up before it is relied on"

_TABLE = (
    _entry("yellow-poplar", (4.6, 8.2), None, _told(0.42, _YARD)),
    _entry("red oak", None, (0.00158, 0.00369), _told(0.63, _WENGERT)),
    _entry("northern red oak", (4.0, 8.6), None, shrinkage_is="from memory", source=_MEMORY),
    _entry("white oak", None, (0.00180, 0.00365), _told(0.68, _WENGERT)),
    _entry("Quercus alba", (5.6, 10.5), None),
    _entry(
        "sugar maple",
        (4.8, 9.9),
        (0.00165, 0.00353),
        _told(0.63, _WENGERT),
        shrinkage_is="published elsewhere",
        source=_TRADE,
    ),
    _entry("black cherry", (3.7, 7.1), (0.00126, 0.00248), _told(0.50, _STRENGTH)),
    _entry("black walnut", (5.5, 7.8), (0.00190, 0.00274), Figure(0.55, "from memory", _MEMORY)),
    _entry(
        "eastern white pine",
        (2.1, 6.1),
        None,
        Figure(0.35, "from memory", _MEMORY),
        shrinkage_is="from memory",
        source=_MEMORY,
    ),
    _entry(
        "coast Douglas-fir",
        (4.8, 7.6),
        (0.00165, 0.00267),
        _told(0.48, _EXTENSION),
        radial_is="link formula",
        tangential_is="published elsewhere",
    ),
    _entry("interior north Douglas-fir", (3.8, 6.9), None),
    _entry("interior west Douglas-fir", (4.8, 7.5), None),
    _entry("white fir", (3.3, 7.0), (0.00112, 0.00245), tangential_is="link formula"),
    _entry("basswood", (6.6, 9.3), (0.00230, 0.00330), _told(0.37, _STRENGTH)),
    _entry("beech", (5.5, 11.9), (0.00190, 0.00431), _told(0.64, _STRENGTH)),
    _entry("red alder", (4.4, 7.3), (0.00151, 0.00256)),
    _entry("white ash", (4.9, 7.8), (0.00169, 0.00274), _told(0.60, _STRENGTH)),
    _entry("yellow birch", (7.3, 9.5), (0.00256, 0.00338), _told(0.62, _STRENGTH)),
    _entry("sweetgum", (5.3, 10.2), (0.00183, 0.00365)),
    _entry("sycamore", (5.0, 8.4), (0.00172, 0.00296)),
)
SPECIES: Mapping[str, Species] = MappingProxyType({species.name: species for species in _TABLE})
"""Every wood there are figures for, by name. Plain "red oak" and "white oak" are the commercial groups."""

ALIASES: Mapping[str, str] = MappingProxyType(
    {
        "poplar": "yellow-poplar",
        "hard maple": "sugar maple",
        "cherry": "black cherry",
        "walnut": "black walnut",
        "douglas fir": "coast Douglas-fir",
        "alder": "red alder",
    }
)
"""Other names that can mean one wood only in an American shop."""


def species(name: str) -> Species:
    """The wood of that name, whatever its case and hyphens.

    Raises PreviewError, naming the nearest there is, for a wood without figures here.
    """
    by_word = {_plain(each): each for each in SPECIES} | {_plain(each): wood for each, wood in ALIASES.items()}
    found = by_word.get(_plain(name))
    if found:
        return SPECIES[found]
    meant = nearest(_plain(name), by_word)
    fix = f'did you mean "{by_word[meant]}"?' if meant else f"the woods known here are {', '.join(sorted(SPECIES))}"
    raise PreviewError("wood", f'"{name}"', "there are no figures for a wood of this name", fix)


def emc(temperature_c: float, humidity: float) -> float:
    """The moisture content, %, that wood comes to rest at in air of a temperature (°C) and relative humidity (%).

    Wood Handbook equation 4-5 (constants as in FPL-GTR-282, 2021, pages 4-3 and 4-4). Within 0.06 of table 4-2; the
    handbook warns that a tenth of a percent shows trends only. Raises PreviewError beyond the table: 5 to 95 % and
    30 to 270 degrees Fahrenheit.
    """
    if not LEAST_HUMIDITY <= humidity <= MOST_HUMIDITY:
        raise PreviewError(
            "humidity",
            f"{humidity:g}",
            f"what wood does is known from {LEAST_HUMIDITY:g} % to {MOST_HUMIDITY:g} % relative humidity",
            "write the humidity of the room in percent, such as 45",
        )
    if not LEAST_TEMPERATURE - 1e-9 <= temperature_c <= MOST_TEMPERATURE + 1e-9:
        raise PreviewError(
            "temperature",
            f"{temperature_c:g} C",
            "what wood does is known from -1.1 °C to 132.2 °C (30 °F to 270 °F)",
            "write the temperature of the room",
        )
    t, h = temperature_c, humidity / 100.0
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    held = k1 * kh + k1 * k2 * kh**2
    return 1800.0 / w * (kh / (1.0 - kh) + (held + k1 * k2 * kh**2) / (1.0 + held))


def change(width_mm: float, coefficient: float, from_mc: float, to_mc: float) -> float:
    """How much wider (+) or narrower (-), mm, a width becomes between two moisture contents (%).

    Within 6 to 14 % by equation 13-2, width x coefficient x change; beyond by equation 13-3 with the shrinkage that
    belongs to the coefficient. The two differ a little where one takes over from the other. For boards cut between flat
    and quarter the handbook calls such figures too high for the width and too low for the thickness. Raises
    PreviewError for a moisture content below 0 or above 30 %, where the equations end.
    """
    for percent in (from_mc, to_mc):
        if not 0.0 <= percent <= FIBER_SATURATION:
            raise PreviewError(
                "moisture",
                f"{percent:g}",
                f"wood changes its size between 0 % and {FIBER_SATURATION:g} % moisture content only",
                "write the moisture content in percent, such as 8",
            )
    least, most = NEARLY_STRAIGHT
    if least <= min(from_mc, to_mc) and max(from_mc, to_mc) <= most:
        return width_mm * coefficient * (to_mc - from_mc)
    if math.isclose(coefficient, 0.0):
        return 0.0
    shrinkage = shrinkage_of(coefficient)
    return width_mm * (to_mc - from_mc) / (FIBER_SATURATION * 100.0 / shrinkage - FIBER_SATURATION + from_mc)


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("-", " ").split())
