"""Profiles: exact cross-sections of moldings, their measures, their flattening, and the trade shapes."""

from preview.profiles.edges import Arc, Edge, Line, arc_of_sweep, arc_through
from preview.profiles.measures import Measures, distance_to, measure, projection_at
from preview.profiles.outline import Outline, flatten
from preview.profiles.pens import Pen, Point
from preview.profiles.profile import Profile, make_profile
from preview.profiles.shapes import SHAPES, Shape
from preview.profiles.sketches import sketch

__all__ = [
    "SHAPES",
    "Arc",
    "Edge",
    "Line",
    "Measures",
    "Outline",
    "Pen",
    "Point",
    "Profile",
    "Shape",
    "arc_of_sweep",
    "arc_through",
    "distance_to",
    "flatten",
    "make_profile",
    "measure",
    "projection_at",
    "sketch",
]
