"""A USD layer as it is written, prim by prim: the only place that knows the names USD has for things.

usd-core (`pxr`) does the writing. It is asked for nothing but specs, which stay on one layer: no stage is composed,
so the work grows with the number of prims and no faster.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview.errors import PreviewError
from preview.exports.glb import linear
from preview.exports.y_up import Reals
from preview.scene import Finish

INSTALL = 'pip install "molding-preview[usd]"'
Spec = Any
Triangles = NDArray[np.int32]


@contextmanager
def opened_layer(creator: str) -> Iterator[Layer]:
    """An empty layer, forgotten when the block ends. Raises PreviewError when usd-core is not installed."""
    try:
        from pxr import Sdf, Tf, Vt
    except ModuleNotFoundError as error:
        raise PreviewError("", None, "USD needs usd-core, not installed here", INSTALL) from error
    except (ImportError, OSError) as error:
        problem = f"usd-core is installed but cannot be loaded ({error})"
        raise PreviewError("", None, problem, f"install it anew: {INSTALL} --force-reinstall") from error
    yield Layer(Sdf, Tf, Vt, creator)


class Layer:
    """A layer in meters, y up. `about` is what a prim's customData says."""

    def __init__(self, sdf: ModuleType, tf: ModuleType, vt: ModuleType, creator: str) -> None:
        self._sdf, self._tf, self._vt = sdf, tf, vt
        self._types = sdf.ValueTypeNames
        self._layer = sdf.Layer.CreateAnonymous(".usdc")
        self._layer.customLayerData = {"creator": creator}
        self._layer.pseudoRoot.SetInfo("metersPerUnit", 1.0)
        self._layer.pseudoRoot.SetInfo("upAxis", "Y")
        self._indices: dict[int, tuple[Triangles, Any, Any]] = {}

    def save(self, path: Path) -> None:
        """Write the layer. Raises PreviewError where that fails."""
        try:
            written = self._layer.Export(str(path))
        except self._tf.ErrorException as error:
            raise _unwritten(path) from error
        if not written:
            raise _unwritten(path)

    def root(self, name: str, title: str, about: Mapping[str, Any]) -> Spec:
        """The prim that stands for the whole, and that whoever refers to the file without more gets."""
        self._layer.defaultPrim = name
        return self.prim(self._layer, name, "Xform", kind="assembly", title=title, about=about)

    def prim(
        self,
        above: Spec,
        name: str,
        schema: str,
        *,
        kind: str = "",
        title: str = "",
        about: Mapping[str, Any] | None = None,
    ) -> Spec:
        """A prim of a schema such as Mesh. kind: its part in the model; title: its name as people gave it."""
        prim = self._sdf.PrimSpec(above, name, self._sdf.SpecifierDef, schema)
        if kind:
            prim.SetInfo("kind", kind)
        if title:
            prim.SetInfo("displayName", title)
        if about:
            prim.customData = dict(about)
        return prim

    def over(self, variant: Spec, path: Sequence[str]) -> Spec:
        """What a variant says of the prim at a path below its own; made where there is none yet."""
        prim = variant.primSpec
        for name in path:
            prim = prim.nameChildren.get(name) or self._sdf.PrimSpec(prim, name, self._sdf.SpecifierOver)
        return prim

    def variants(self, prim: Spec, name: str, names: Sequence[str], chosen: str) -> list[Spec]:
        """A variant set on a prim, one variant for each name, one of them chosen."""
        of = self._sdf.VariantSetSpec(prim, name)
        prim.variantSetNameList.prependedItems.append(name)
        prim.variantSelections[name] = chosen
        return [self._sdf.VariantSpec(of, each) for each in names]

    def keep_order(self, prim: Spec) -> None:
        """Have a prim's children told in the order in which they were made."""
        names = [child.name for child in prim.nameChildren]
        if len(names) > 1:
            prim.nameChildrenOrder = names

    def place(self, prim: Spec, at: tuple[float, float, float]) -> None:
        """Stand a prim at a point, in meters."""
        self._attribute(prim, "xformOp:translate", "Double3", at)
        self._attribute(prim, "xformOpOrder", "TokenArray", self._vt.TokenArray(["xformOp:translate"]), uniform=True)

    def material(self, above: Spec, name: str, finish: Finish) -> None:
        """A finish as a UsdPreviewSurface (UsdPreviewSurface specification 2.6): its color is linear light."""
        material = self.prim(above, name, "Material", title=finish.name)
        shader = self.prim(material, "surface", "Shader")
        self._attribute(shader, "info:id", "Token", "UsdPreviewSurface", uniform=True)
        self._attribute(shader, "inputs:diffuseColor", "Color3f", tuple(linear(part) for part in finish.color))
        self._attribute(shader, "inputs:metallic", "Float", finish.metallic)
        self._attribute(shader, "inputs:roughness", "Float", finish.roughness)
        self._attribute(shader, "outputs:surface", "Token", None)
        surface = self._attribute(material, "outputs:surface", "Token", None)
        surface.connectionPathList.explicitItems = [f"{shader.path}.outputs:surface"]

    def bind(self, prim: Spec, material: str) -> None:
        """Give a prim, and all below it, the material at a path."""
        prim.SetInfo("apiSchemas", self._sdf.TokenListOp.Create(prependedItems=["MaterialBindingAPI"]))
        binding = self._sdf.RelationshipSpec(prim, "material:binding", custom=False)
        binding.targetPathList.explicitItems = [material]

    def mesh(
        self,
        prim: Spec,
        points: NDArray[np.float32],
        normals: Reals,
        triangles: Triangles,
        uvs: NDArray[np.float32] | None = None,
        *,
        both_sides: bool = False,
    ) -> None:
        """Give a Mesh its points and normals (v, 3), triangles (t, 3), outward, and texture coordinates (v, 2)."""
        vectors = self._vt.Vec3fArray
        counts, indices = self._arrays_of(triangles)
        extent = np.stack([points.min(axis=0), points.max(axis=0)])
        self._attribute(prim, "doubleSided", "Bool", both_sides, uniform=True)
        self._attribute(prim, "extent", "Float3Array", vectors.FromNumpy(extent))
        self._attribute(prim, "faceVertexCounts", "IntArray", counts)
        self._attribute(prim, "faceVertexIndices", "IntArray", indices)
        self._attribute(prim, "normals", "Normal3fArray", vectors.FromNumpy(_floats(normals)), varying="vertex")
        self._attribute(prim, "points", "Point3fArray", vectors.FromNumpy(_floats(points)))
        if uvs is not None:
            pairs = self._vt.Vec2fArray.FromNumpy(_floats(uvs))
            self._attribute(prim, "primvars:st", "TexCoord2fArray", pairs, varying="vertex")
        self._attribute(prim, "subdivisionScheme", "Token", "none", uniform=True)

    def _arrays_of(self, triangles: Triangles) -> tuple[Any, Any]:
        """The arrays of triangles that many pieces share; made once, and stored once."""
        if id(triangles) not in self._indices:
            arrays = self._vt.IntArray
            counts = arrays.FromNumpy(np.full(len(triangles), 3, np.int32))
            indices = arrays.FromNumpy(np.ascontiguousarray(triangles, np.int32).ravel())
            self._indices[id(triangles)] = (triangles, counts, indices)  # kept, so that its id stays its own
        _, counts, indices = self._indices[id(triangles)]
        return counts, indices

    def _attribute(
        self, prim: Spec, name: str, kind: str, value: Any, *, varying: str = "", uniform: bool = False
    ) -> Spec:
        """An attribute of a schema; `varying` says what of a mesh has a value each."""
        how = self._sdf.VariabilityUniform if uniform else self._sdf.VariabilityVarying
        attribute = self._sdf.AttributeSpec(prim, name, getattr(self._types, kind), how)
        if value is not None:
            attribute.default = value
        if varying:
            attribute.SetInfo("interpolation", varying)
        return attribute


def _floats(rows: Reals) -> NDArray[np.float32]:
    return np.ascontiguousarray(rows, np.float32)


def _unwritten(path: Path) -> PreviewError:
    return PreviewError(
        "", None, "the USD layer cannot be written here", "make some room on this disk", str(path.parent)
    )
