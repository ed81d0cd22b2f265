"""The materials of a glTF file, one for each finish, and which may stand for which.

paint, stone, metal   a plain color
clear                 on molding the grain of wood in the finish's color, and its pores where there are tangents

A finish has a second material where things around the molding wear it and cannot have the same: they have no texture
coordinates, so no grain, and sheets are shown from both sides. Its name says so then.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, NamedTuple

from preview.exports.gltf_grain import FULL, TILE, Detail, grain
from preview.exports.gltf_grids import Grid
from preview.scene import ON_WOOD, Finish

Record = dict[str, Any]

PIXEL = bytes.fromhex(
    "89504e470d0a1a0a"  # PNG
    "0000000d49484452000000010000000108020000" + "00907753de"  # 1 by 1, 8-bit RGB
    "0000000f49444154" + "7801" + "010400fbff" + "00ffffff" + "05fe02fe" + "49666e2b"  # white, stored as it is
    "0000000049454e44ae426082"
)
"""A white pixel, which changes no color. Pieces without grain keep their texture coordinates, for whoever lays pictures
of his own; but where no material of a piece, in any variant, reads them, a validator calls them unused, and programs
that tidy up would drop them. There, and only there, this is what reads them."""
BLANK = "blank"

AS_DRAWN = "as drawn"
TRANSFORM, VARIANTS = "KHR_texture_transform", "KHR_materials_variants"
SMOOTH_AND_REPEATED = {"magFilter": 9729, "minFilter": 9987}


class _Look(NamedTuple):
    """What a material is made for. read: it reads texture coordinates."""

    finish: Finish
    read: bool
    both_sides: bool


class Materials:
    """Materials and textures, made as they are asked for.

    worn: the finishes of the pieces. offered: those that molding may be shown in instead. bumps: whatever may wear a
    clear finish has tangents. grid: what texture coordinates are stored on; None where they are millimeters. detail:
    how fine the grain is.
    """

    def __init__(
        self,
        worn: Sequence[Finish],
        offered: Sequence[Finish],
        *,
        bumps: bool,
        grid: Grid | None = None,
        detail: Detail = FULL,
    ) -> None:
        self.textures: list[Record] = []
        self.pictures: list[tuple[str, bytes]] = []
        self._bumps = bumps
        self._grid = grid
        self._detail = detail
        self._made: list[Record] = []
        self._known: dict[_Look, int] = {}
        self._laid: dict[str, int] = {}
        self._mappings: dict[Finish, list[Record]] = {}
        changing = any(finish != other for finish in worn if finish.kind in ON_WOOD for other in offered)
        self._offered = tuple(offered) if changing else ()
        self._grain_to_choose = any(finish.kind == "clear" for finish in self._offered)

    @property
    def records(self) -> list[Record]:
        """The materials, by their finishes' names; where a name has several, each says in what it differs."""
        several = Counter(look.finish.name for look in self._known)
        textured = {look.finish.name for look in self._known if look.read}
        found: list[Record] = []
        told = Counter[str]()
        for look, record in zip(self._known, self._made, strict=True):
            name = look.finish.name
            words = [name]
            if several[name] > 1 and name in textured and not look.read:
                words.append("no grain" if look.finish.kind == "clear" else "no texture")
            if several[name] > 1 and look.both_sides:
                words.append("both sides")
            name = ", ".join(words)
            told[name] += 1
            found.append({"name": name if told[name] == 1 else f"{name}, {told[name]}"} | record)
        return found

    @property
    def samplers(self) -> list[Record]:
        """How textures are read."""
        return [SMOOTH_AND_REPEATED] if self.textures else []

    @property
    def variants(self) -> list[str]:
        """The names of what molding may be shown in, the scene as drawn first; none where there is no choice."""
        if not self._offered:
            return []
        names = [finish.name for finish in self._offered]
        drawn = AS_DRAWN
        while drawn in names:
            drawn += " in the scene"
        return [drawn, *names]

    @property
    def extensions(self) -> list[str]:
        """The extensions that are used; a reader without them still shows the scene as drawn."""
        grained = "grain" in self._laid
        return [*([VARIANTS] if self._offered else []), *([TRANSFORM] if grained else [])]

    def worn(self, finish: Finish) -> Record:
        """What a primitive of molding says of its material."""
        found: Record = {"material": self.index(finish, molding=True)}
        if self._offered and finish.kind in ON_WOOD:
            found["extensions"] = {VARIANTS: {"mappings": self._mapped(finish)}}
        return found

    def index(self, finish: Finish, *, molding: bool = False, both_sides: bool = False) -> int:
        """The number of a finish's material. molding: the surface has texture coordinates, and tangents for bumps."""
        grained = molding and finish.kind == "clear"
        blank = molding and not grained and not (self._grain_to_choose and finish.kind in ON_WOOD)
        look = _Look(finish, grained or blank, both_sides)
        if look not in self._known:
            record = _look(finish)
            if grained:
                self._lay_grain(finish, record)
            elif blank:
                record["pbrMetallicRoughness"]["baseColorTexture"] = {"index": self._texture(BLANK, PIXEL)}
            self._known[look] = len(self._made)
            self._made.append(record | ({"doubleSided": True} if both_sides else {}))
        return self._known[look]

    def _mapped(self, finish: Finish) -> list[Record]:
        """The material of a piece of this finish in each variant."""
        if finish not in self._mappings:
            chosen: dict[int, list[int]] = {}
            for variant, worn in enumerate((finish, *self._offered)):
                chosen.setdefault(self.index(worn, molding=True), []).append(variant)
            self._mappings[finish] = [{"material": index, "variants": found} for index, found in chosen.items()]
        return self._mappings[finish]

    def _lay_grain(self, finish: Finish, record: Record) -> None:
        wood = grain(self._detail)
        scale = {"extensions": {TRANSFORM: self._tiled()}}
        look = record["pbrMetallicRoughness"]
        # Where the picture is lighter than on the whole a light finish would pass white.
        color = [min(linear(part) / mean, 1.0) for part, mean in zip(finish.color, wood.mean, strict=True)]
        look["baseColorFactor"] = [*(round(part, 9) for part in color), 1.0]
        look["baseColorTexture"] = {"index": self._texture("grain", wood.color)} | scale
        if self._bumps:
            record["normalTexture"] = {"index": self._texture("pores", wood.normals)} | scale

    def _tiled(self) -> Record:
        """From texture coordinates as stored to tiles of the grain."""
        if self._grid is None:
            return {"scale": [1 / side for side in TILE]}
        return {"offset": (self._grid.low / TILE).tolist(), "scale": (self._grid.step / TILE).tolist()}

    def _texture(self, name: str, picture: bytes) -> int:
        if name not in self._laid:
            self._laid[name] = len(self.textures)
            self.textures.append({"name": name, "sampler": 0, "source": len(self.pictures)})
            self.pictures.append((name, picture))
        return self._laid[name]


def linear(part: float) -> float:
    """One part of an sRGB color (0 to 1) as the share of light that it stands for (IEC 61966-2-1).

    >>> linear(0.0), linear(0.5), linear(1.0)
    (0.0, 0.21404114, 1.0)
    """
    light = part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
    return round(light, 9)  # the last bits of a power are the machine's own


def _look(finish: Finish) -> Record:
    return {
        "pbrMetallicRoughness": {
            "baseColorFactor": [*(linear(part) for part in finish.color), 1.0],
            "metallicFactor": finish.metallic,
            "roughnessFactor": finish.roughness,
        },
    }
