"""What goes to the bench: cut list, sticks, blanks and site sheet on paper and as data, and templates at full size."""

from preview.bench.files import shop_files
from preview.bench.layouts import stick_text
from preview.bench.record import SHOP, shop_json
from preview.bench.templates import (
    Template,
    TemplateEntry,
    TemplateKind,
    TemplateLabel,
    TemplateLine,
    TemplateSet,
    template_set,
    templates,
)

__all__ = [
    "SHOP",
    "Template",
    "TemplateEntry",
    "TemplateKind",
    "TemplateLabel",
    "TemplateLine",
    "TemplateSet",
    "shop_files",
    "shop_json",
    "stick_text",
    "template_set",
    "templates",
]
