"""Run by another Python, which has a modelling package's module: imports a file there, and tells what came of it.

    modelled.py FILE OUT.json OUT.npz

JSON: for each mesh its name, its materials (name, base color in linear light) and the box of its points; cameras by
name; the package's version. The arrays "N corners" and "N normals" (t, 3, 3) are those of the mesh of number N, in the
package's frame: meters, z up.
"""

import json
import sys
from pathlib import Path

import numpy as np


def imported(path: Path):
    """The package's module, with a file imported into an empty scene."""
    import bpy

    bpy.ops.wm.read_factory_settings(use_empty=True)
    kinds = {".glb": bpy.ops.import_scene.gltf, ".usdz": bpy.ops.wm.usd_import, ".obj": bpy.ops.wm.obj_import}
    done = kinds[path.suffix](filepath=str(path))
    if done != {"FINISHED"}:
        sys.exit(f"{path.name}: {done}")
    bpy.context.view_layer.update()
    return bpy


def material(slot) -> dict:
    """What a material is called, and the light that it gives back on the whole: its color, times its picture."""
    found = slot.material
    for node in found.node_tree.nodes if found is not None and found.node_tree else ():
        if node.type == "BSDF_PRINCIPLED":
            return {"name": found.name, "color": light(node.inputs["Base Color"]).tolist()}
    return {"name": found.name if found is not None else "", "color": None}


def light(given) -> np.ndarray:
    """What reaches an input of a node on the whole (3,)."""
    if not given.is_linked:
        return np.array(given.default_value[:3])
    node = given.links[0].from_node
    if node.type == "TEX_IMAGE":
        shades = np.array(node.image.pixels).reshape(-1, node.image.channels)[:, :3]  # as the file has them
        assert node.image.colorspace_settings.name == "sRGB"
        return np.where(shades <= 0.04045, shades / 12.92, ((shades + 0.055) / 1.055) ** 2.4).mean(axis=0)
    assert node.type == "MIX"
    assert node.blend_type == "MULTIPLY"
    colors = [each for each in node.inputs if each.type == "RGBA" and each.enabled]
    return np.prod([light(each) for each in colors], axis=0)


def main(path: Path, told: Path, arrays: Path) -> None:
    bpy = imported(path)
    meshes = [thing for thing in bpy.context.scene.objects if thing.type == "MESH"]
    found, held = [], {}
    for number, thing in enumerate(meshes):
        mesh = thing.data
        matrix = np.array(thing.matrix_world)
        points = np.empty(3 * len(mesh.vertices))
        mesh.vertices.foreach_get("co", points)
        points = points.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]
        corners = np.empty(len(mesh.loops), np.int32)
        mesh.loops.foreach_get("vertex_index", corners)
        sizes = np.empty(len(mesh.polygons), np.int32)
        mesh.polygons.foreach_get("loop_total", sizes)
        if (sizes != 3).any():
            sys.exit(f"{thing.name} is not made of triangles")
        normals = np.empty(3 * len(mesh.loops))
        mesh.corner_normals.foreach_get("vector", normals)
        normals = normals.reshape(-1, 3) @ np.linalg.inv(matrix[:3, :3])
        normals /= np.linalg.norm(normals, axis=1)[:, None]
        held[f"{number} corners"] = points[corners].reshape(-1, 3, 3)
        held[f"{number} normals"] = normals.reshape(-1, 3, 3)
        about = {"name": thing.name, "mesh": mesh.name, "materials": [material(slot) for slot in thing.material_slots]}
        about |= {"low": points.min(axis=0).tolist(), "high": points.max(axis=0).tolist()}
        about |= {"custom_normals": bool(mesh.has_custom_normals), "above": thing.parent.name if thing.parent else ""}
        about |= {"extras": {key: value for key, value in thing.items() if isinstance(value, str | int | float)}}
        found.append(about)
    cameras = [thing.name for thing in bpy.context.scene.objects if thing.type == "CAMERA"]
    variants = [each.name for each in getattr(bpy.data.scenes[0], "gltf2_KHR_materials_variants_variants", ())]
    document = {"version": bpy.app.version_string, "meshes": found, "cameras": cameras, "variants": variants}
    document["materials"] = [each.name for each in bpy.data.materials]
    told.write_text(json.dumps(document, indent=1), "utf-8")
    np.savez(arrays, **held)


if __name__ == "__main__":
    main(*map(Path, sys.argv[-3:]))
