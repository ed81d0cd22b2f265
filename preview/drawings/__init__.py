"""Drawings become profiles: DXF and SVG outlines and measured points, as exact lines and arcs, or refused in words."""

from preview.drawings.read import read_drawing
from preview.drawings.sheet import whole
from preview.drawings.wanted import Drawn, Wanted

__all__ = ["Drawn", "Wanted", "read_drawing", "whole"]
