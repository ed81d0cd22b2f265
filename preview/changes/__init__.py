"""What changed between two versions of a scene: in words, and drawn over each other.

features -> matching -> pieces; outlines, pairs -> parts; all of them -> compare
footprints, sheet -> plan_drawing, profile_drawing -> overlay
"""

from preview.changes.compare import changed
from preview.changes.overlay import overlay_svg

__all__ = ["changed", "overlay_svg"]
