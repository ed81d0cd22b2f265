"""For the client: pictures of what the molding will look like."""

from preview.client.camera import Camera
from preview.client.pictures import Quality, picture, render

__all__ = ["Camera", "Quality", "picture", "render"]
