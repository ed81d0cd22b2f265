"""The scene file: TOML, written by hand, becomes members and runs laid out, or is refused in plain words."""

from preview.scene.model import (
    Alternative,
    Block,
    Choice,
    Color,
    Finish,
    FinishKind,
    Member,
    RunInScene,
    Scene,
    Surrounding,
    SurroundingKind,
    Variant,
)
from preview.scene.option import chosen, every_variant
from preview.scene.profile import library_path, load_cuts, load_drawn, load_profile, load_spring_notes
from preview.scene.read import CHORD_RANGE, load_scene, parse_scene
from preview.scene.site import GAP_GRADES, Air, Climate, GapGrade, Moisture, Sawn, Site
from preview.scene.starter import STARTER

__all__ = [
    "CHORD_RANGE",
    "GAP_GRADES",
    "STARTER",
    "Air",
    "Alternative",
    "Block",
    "Choice",
    "Climate",
    "Color",
    "Finish",
    "FinishKind",
    "GapGrade",
    "Member",
    "Moisture",
    "RunInScene",
    "Sawn",
    "Scene",
    "Site",
    "Surrounding",
    "SurroundingKind",
    "Variant",
    "chosen",
    "every_variant",
    "library_path",
    "load_cuts",
    "load_drawn",
    "load_profile",
    "load_scene",
    "load_spring_notes",
    "parse_scene",
]
