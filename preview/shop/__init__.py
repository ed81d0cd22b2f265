"""What the shop needs to cut: saw settings for every end, how wood moves, and how far each joint may open."""

from preview.shop.effects import Opening
from preview.shop.ends import SHORT_PIECE, TEST_CUT, EndSettings, Setup, cut_normal, end_settings
from preview.shop.forecasting import JointForecast, Pair, forecast
from preview.shop.saw import Setting, flat_on_table, in_position, on_its_back, settings, standing
from preview.shop.spring import spring_of
from preview.shop.tolerances import FIELD_GAPS, GRADES, TOLERANCES, Grade, Tolerance, best_grade
from preview.shop.wood import SPECIES, Figure, Species, change, emc, species

__all__ = [
    "FIELD_GAPS",
    "GRADES",
    "SHORT_PIECE",
    "SPECIES",
    "TEST_CUT",
    "TOLERANCES",
    "EndSettings",
    "Figure",
    "Grade",
    "JointForecast",
    "Opening",
    "Pair",
    "Setting",
    "Setup",
    "Species",
    "Tolerance",
    "best_grade",
    "change",
    "cut_normal",
    "emc",
    "end_settings",
    "flat_on_table",
    "forecast",
    "in_position",
    "on_its_back",
    "settings",
    "species",
    "spring_of",
    "standing",
]
