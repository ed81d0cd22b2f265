"""For the client: pictures of what the molding will look like, and the page that shows it in three dimensions."""

from preview.client.page import CAUTION, Shown, figures, live_html, model_document, page_html
from preview.client.stills import Quality, picture, poster, render
from preview.vantage import Camera

__all__ = [
    "CAUTION",
    "Camera",
    "Quality",
    "Shown",
    "figures",
    "live_html",
    "model_document",
    "page_html",
    "picture",
    "poster",
    "render",
]
