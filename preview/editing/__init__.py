"""A scene file changed value by value, every other byte of it kept.

desk -> edit -> field -> style, places
"""

from preview.editing.desk import MOST_UNDONE, Conflict, Desk, Sheet
from preview.editing.edit import edited
from preview.editing.field import Field, FieldKind, fields
from preview.editing.places import MOST_TEXT

__all__ = [
    "MOST_TEXT",
    "MOST_UNDONE",
    "Conflict",
    "Desk",
    "Field",
    "FieldKind",
    "Sheet",
    "edited",
    "fields",
]
