"""Templates at full size, on paper and as DXF: curved pieces, curved miters, copes, raked profiles, curve rods.

template, bars -> curves, laid -> joints -> gather; sheets, dxf, index -> files
"""

from preview.bench.templates.files import TemplateSet, template_set
from preview.bench.templates.gather import templates
from preview.bench.templates.index import TemplateEntry
from preview.bench.templates.template import Template, TemplateKind, TemplateLabel, TemplateLine

__all__ = [
    "Template",
    "TemplateEntry",
    "TemplateKind",
    "TemplateLabel",
    "TemplateLine",
    "TemplateSet",
    "template_set",
    "templates",
]
