"""What a study shows: figures, what mattered, and a report on one page.

Enters: the state of a study, or one measured pair. Leaves: matplotlib figures, SVG and PNG, shares with intervals,
relations, HTML. Writes no file, asks no clock and knows nothing of stores, pages or terminals.
"""

from optimiser.review.cautions import (
    CAUTIONS,
    HEARING_CAUTION,
    LOAD_CAUTION,
    RIBBON_CAUTION,
    exposure_sentence,
)
from optimiser.review.drawing import View
from optimiser.review.figures import figures_of, views_of
from optimiser.review.images import png_of, svg_of
from optimiser.review.pair_figure import pair_figure
from optimiser.review.palette import DARK, LIGHT, Palette, css_variables
from optimiser.review.reading_relation import (
    RELATION_NOTE,
    Relation,
    reading_relation,
    relation_in_words,
    study_relation,
)
from optimiser.review.recall_pdf import recall_pdf
from optimiser.review.recall_sheet import RECALL_STYLE, recall_sheet
from optimiser.review.report import build_report
from optimiser.review.shares import NOT_KNOWN, Share, mattered
from optimiser.review.standing import OutlookThen, Standing, alike, alike_in_words, standing_of

__all__ = [
    "CAUTIONS",
    "DARK",
    "HEARING_CAUTION",
    "LIGHT",
    "LOAD_CAUTION",
    "NOT_KNOWN",
    "RECALL_STYLE",
    "RELATION_NOTE",
    "RIBBON_CAUTION",
    "OutlookThen",
    "Palette",
    "Relation",
    "Share",
    "Standing",
    "View",
    "alike",
    "alike_in_words",
    "build_report",
    "css_variables",
    "exposure_sentence",
    "figures_of",
    "mattered",
    "pair_figure",
    "png_of",
    "reading_relation",
    "recall_pdf",
    "recall_sheet",
    "relation_in_words",
    "standing_of",
    "study_relation",
    "svg_of",
    "views_of",
]
