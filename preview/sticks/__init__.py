"""Stock layout, pure numbers: which part is cut from which stick so that the least is bought.

A layout says how much less any other could take at most: nothing, where it is proven to be the least. The same parts
and sticks always give the same layout, on every machine of one kind, as the search is limited by counts, not by time.
"""

from preview.sticks.laying import lay_out
from preview.sticks.layout import Laid, Layout, Part, Stick

__all__ = [
    "Laid",
    "Layout",
    "Part",
    "Stick",
    "lay_out",
]
