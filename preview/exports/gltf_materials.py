"""The materials of a glTF file: one for each finish on molding, one on other things; and which may stand for which.

paint, stone, metal   a plain color; on molding with a white pixel by the texture coordinates
clear                 on molding the grain of wood in the finish's color, and its pores where there are tangents
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from preview.exports.gltf_grain import TILE, grain
from preview.exports.gltf_grids import Grid
from preview.scene import ON_WOOD, Finish

Record = dict[str, Any]

PIXEL = bytes.fromhex(
    "89504e470d0a1a0a"  # PNG
    "0000000d49484452000000010000000108020000" + "00907753de"  # 1 by 1, 8-bit RGB
    "0000000f49444154" + "7801" + "010400fbff" + "00ffffff" + "05fe02fe" + "49666e2b"  # white, stored as it is
    "0000000049454e44ae426082"
)
"""The picture in the materials of pieces without grain. White changes no color; it holds the place of a picture, laid
by the texture coordinates, for whoever renders the model."""

AS_DRAWN = "as drawn"
TRANSFORM, VARIANTS = "KHR_texture_transform", "KHR_materials_variants"
SMOOTH_AND_REPEATED = {"magFilter": 9729, "minFilter": 9987}


class Materials:
    """Materials and textures, made as they are asked for.

    worn: the finishes of the pieces. offered: those that molding may be shown in instead. bumps: the pieces that have a
    clear finish have tangents. grid: what texture coordinates are stored on; None where they are millimeters.
    """

    def __init__(
        self, worn: Sequence[Finish], offered: Sequence[Finish], *, bumps: bool, grid: Grid | None = None
    ) -> None:
        self.records: list[Record] = []
        self.textures: list[Record] = []
        self.pictures: list[tuple[str, bytes]] = []
        self._bumps = bumps
        self._grid = grid
        self._known: dict[tuple[Finish, bool, bool, bool], int] = {}
        self._laid: dict[str, int] = {}
        self._mappings: dict[Finish, list[Record]] = {}
        changing = any(finish != other for finish in worn if finish.kind in ON_WOOD for other in offered)
        self._offered = tuple(offered) if changing else ()

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
        found: Record = {"material": self._on_molding(finish, finish)}
        if self._offered and finish.kind in ON_WOOD:
            found["extensions"] = {VARIANTS: {"mappings": self._mapped(finish)}}
        return found

    def index(self, finish: Finish, *, molding: bool = False, bumps: bool = False, both_sides: bool = False) -> int:
        """The number of a finish's material. molding: the surface has texture coordinates. bumps: and tangents."""
        key = (finish, molding, bumps, both_sides)
        if key not in self._known:
            record = _look(finish)
            if molding:
                record = self._grained(finish, record, bumps) if finish.kind == "clear" else self._plain(record)
            self._known[key] = len(self.records)
            self.records.append(record | ({"doubleSided": True} if both_sides else {}))
        return self._known[key]

    def _on_molding(self, own: Finish, worn: Finish) -> int:
        """The material of a piece that wears one finish where its own is another: that says whether it has tangents."""
        return self.index(worn, molding=True, bumps=self._bumps and own.kind == worn.kind == "clear")

    def _mapped(self, finish: Finish) -> list[Record]:
        """The material of a piece of this finish in each variant."""
        if finish not in self._mappings:
            chosen: dict[int, list[int]] = {}
            for variant, worn in enumerate((finish, *self._offered)):
                chosen.setdefault(self._on_molding(finish, worn), []).append(variant)
            self._mappings[finish] = [{"material": index, "variants": found} for index, found in chosen.items()]
        return self._mappings[finish]

    def _plain(self, record: Record) -> Record:
        record["pbrMetallicRoughness"]["baseColorTexture"] = {"index": self._texture("white", PIXEL)}
        return record

    def _grained(self, finish: Finish, record: Record, bumps: bool) -> Record:
        wood = grain()
        scale = {"extensions": {TRANSFORM: self._tiled()}}
        look = record["pbrMetallicRoughness"]
        # Where the picture is lighter than on the whole a light finish would pass white.
        color = [min(linear(part) / mean, 1.0) for part, mean in zip(finish.color, wood.mean, strict=True)]
        look["baseColorFactor"] = [*(round(part, 9) for part in color), 1.0]
        look["baseColorTexture"] = {"index": self._texture("grain", wood.color)} | scale
        if bumps:
            record["normalTexture"] = {"index": self._texture("pores", wood.normals)} | scale
        return record

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
        "name": finish.name,
        "pbrMetallicRoughness": {
            "baseColorFactor": [*(linear(part) for part in finish.color), 1.0],
            "metallicFactor": finish.metallic,
            "roughnessFactor": finish.roughness,
        },
    }
