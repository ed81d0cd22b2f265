"""The client's page: one self-contained file, and the model document that it shows."""

from preview.client.page.document import figures, model_document
from preview.client.page.html import live_html, page_html
from preview.client.page.shown import Shown
from preview.client.page.words import CAUTION

__all__ = ["CAUTION", "Shown", "figures", "live_html", "model_document", "page_html"]
