"""A scene file as the verbs take it: with alternatives and a chord from the command line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from preview.errors import PreviewError
from preview.scene import CHORD_RANGE, Scene, chosen, load_scene
from preview.units import length


def load(path: Path, chord: str | None = None, options: Sequence[str] = ()) -> Scene:
    """Read a scene file.

    chord: as written on the command line (bare numbers are mm), in place of the scene's own. options: the names of the
    alternatives that are to be taken for the scene, one for each choice that matters; then it has no options left.
    """
    if path.suffix.lower() != ".toml" and path.is_file():
        problem = "this is neither a scene, whose name ends in .toml, nor a model of a format that is known"
        raise PreviewError("", None, problem, "give the scene file, or a model such as a .glb or an .stl", str(path))
    scene = load_scene(path)
    if options:
        scene = chosen(scene, options)
    if chord is None:
        return scene
    try:
        asked = length(chord, "mm")
    except PreviewError as error:
        raise error.at("--chord") from None
    low, high = CHORD_RANGE
    if not low <= asked <= high:
        raise PreviewError(
            "--chord", chord, f"the chord must be from {low:g} mm to {high:g} mm", "0.05 mm serves most work"
        )
    variants = tuple(replace(each, scene=replace(each.scene, chord=asked)) for each in scene.variants)
    return replace(scene, chord=asked, variants=variants)
