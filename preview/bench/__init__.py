"""What goes to the bench: templates at full size."""

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
    "Template",
    "TemplateEntry",
    "TemplateKind",
    "TemplateLabel",
    "TemplateLine",
    "TemplateSet",
    "template_set",
    "templates",
]
