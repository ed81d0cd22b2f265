"""Stills: what the molding will look like, path-traced without a window or a graphics card."""

from preview.client.stills.beside import grid_of, tiled
from preview.client.stills.job import Quality
from preview.client.stills.pictures import Rendering, StillView, as_photo, as_poster, begin
from preview.client.stills.shots import Frame, Still, stills_of, telling

__all__ = [
    "Frame",
    "Quality",
    "Rendering",
    "Still",
    "StillView",
    "as_photo",
    "as_poster",
    "begin",
    "grid_of",
    "stills_of",
    "telling",
    "tiled",
]
