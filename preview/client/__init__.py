"""For the client: pictures of what the molding will look like, and the page that shows it in three dimensions."""

from preview.client.page import CAUTION, Shown, figures, live_html, model_document, page_html
from preview.client.stills import (
    Frame,
    Quality,
    Rendering,
    Still,
    StillView,
    as_photo,
    as_poster,
    begin,
    grid_of,
    stills_of,
    telling,
    tiled,
)
from preview.vantage import Camera

__all__ = [
    "CAUTION",
    "Camera",
    "Frame",
    "Quality",
    "Rendering",
    "Shown",
    "Still",
    "StillView",
    "as_photo",
    "as_poster",
    "begin",
    "figures",
    "grid_of",
    "live_html",
    "model_document",
    "page_html",
    "stills_of",
    "telling",
    "tiled",
]
