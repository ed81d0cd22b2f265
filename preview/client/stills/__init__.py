"""Stills: what the molding will look like, path-traced without a window or a graphics card."""

from preview.client.stills.pictures import Quality, picture, poster, render

__all__ = ["Quality", "picture", "poster", "render"]
