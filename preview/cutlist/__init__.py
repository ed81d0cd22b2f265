"""The cut list: what to cut for a build, checked by putting it together again."""

from preview.cutlist.alike import Group
from preview.cutlist.job import Curve, Longer, ShopJob, Sticks, shop_job
from preview.cutlist.making import CutList, RunOrder, cut_list
from preview.cutlist.order import REASONS, Before, Rule, Step, install_order
from preview.cutlist.piece import Bend, BlockSize, CutEnd, CutPiece, Easing
from preview.cutlist.quantities import PriceLine, PriceSheet, Quantity, gravity_of, price_sheet, quantities
from preview.cutlist.reading import ReadLength, RoundedRun, read_length, roundings
from preview.cutlist.rows import csv_text, guarded
from preview.cutlist.seen import developed_width, seen_area, seen_edges
from preview.cutlist.stock import Lumber, Rough, Stock, rough_for, stock_of
from preview.cutlist.walk import CLOSES, Reassembly, reassembled
from preview.cutlist.words import bend_words, end_words

__all__ = [
    "CLOSES",
    "REASONS",
    "Before",
    "Bend",
    "BlockSize",
    "Curve",
    "CutEnd",
    "CutList",
    "CutPiece",
    "Easing",
    "Group",
    "Longer",
    "Lumber",
    "PriceLine",
    "PriceSheet",
    "Quantity",
    "ReadLength",
    "Reassembly",
    "Rough",
    "RoundedRun",
    "Rule",
    "RunOrder",
    "ShopJob",
    "Step",
    "Sticks",
    "Stock",
    "bend_words",
    "csv_text",
    "cut_list",
    "developed_width",
    "end_words",
    "gravity_of",
    "guarded",
    "install_order",
    "price_sheet",
    "quantities",
    "read_length",
    "reassembled",
    "rough_for",
    "roundings",
    "seen_area",
    "seen_edges",
    "shop_job",
    "stock_of",
]
