"""What a study shows: figures, what mattered, and a report on one page.

Enters: the state of a study. Leaves: matplotlib figures, SVG and PNG, shares with intervals, HTML. Writes no file, asks
no clock and knows nothing of stores, pages or terminals.
"""

from optimiser.review.cautions import CAUTIONS, exposure_sentence
from optimiser.review.drawing import View
from optimiser.review.figures import figures_of, views_of
from optimiser.review.images import png_of, svg_of
from optimiser.review.palette import DARK, LIGHT, Palette, css_variables
from optimiser.review.report import build_report
from optimiser.review.shares import Share, mattered
from optimiser.review.standing import OutlookThen, Standing, standing_of

__all__ = [
    "CAUTIONS",
    "DARK",
    "LIGHT",
    "OutlookThen",
    "Palette",
    "Share",
    "Standing",
    "View",
    "build_report",
    "css_variables",
    "exposure_sentence",
    "figures_of",
    "mattered",
    "png_of",
    "standing_of",
    "svg_of",
    "views_of",
]
