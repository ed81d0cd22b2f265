"""Levels of detail: one scene as compact GLB files of fewer and fewer triangles, for what is far away.

A level has a small picture of the grain, no relief of pores and no cameras: so the first is smaller than the compact
file even where that has the fewest triangles already.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from preview.build import Built
from preview.exports.glb_compact import compact_bytes
from preview.exports.gltf_grain import FAR
from preview.exports.gltf_model import Part, model_of
from preview.models.mesh import mesh_runs, mesh_surroundings

COARSER = (4, 16, 64)
"""How many times the scene's chord the levels have. The steps along a curve go with one over the root of the chord, so
each level has half as many as the one before, and a quarter of the triangles where a piece curves both ways."""
WORTH_IT = 0.9
"""A level that keeps more than this share of the triangles of the one before is not made."""


def levels_of(built: Built) -> Iterator[Built]:
    """The build with coarser and coarser meshes, as long as these have fewer triangles; the first in any case."""
    count = sum(len(mesh.triangles) for mesh in built.meshes)
    for number, times in enumerate(COARSER):
        chord = times * built.scene.chord
        meshes = tuple(mesh_runs(built.lines, chord))
        fewer = sum(len(mesh.triangles) for mesh in meshes)
        if number and fewer > WORTH_IT * count:
            return
        count = fewer
        yield replace(built, scene=replace(built.scene, chord=chord), meshes=meshes)


def level_files(built: Built, stem: str) -> tuple[tuple[str, bytes], ...]:
    """A file for each level, by its name: STEM-level-1.glb and so on. Level 0 is the compact GLB itself.

    Each says its level, its chord in mm and the model's digest, which is that of the exact geometry and the same in
    all. Raises PreviewError as `built_glb` does.
    """
    model = model_of(built, views=False)
    files = []
    for level, coarser in enumerate(levels_of(built), start=1):
        scene = coarser.scene
        parts = [Part(mesh, part.finish) for mesh, part in zip(coarser.meshes, model.parts, strict=True)]
        around = mesh_surroundings(scene.surroundings, scene.runs, scene.chord)
        about = {"level": level, "chord_mm": scene.chord}
        found = compact_bytes(replace(model, parts=parts, surroundings=around), about, FAR)
        files.append((f"{stem}-level-{level}.glb", found))
    return tuple(files)
