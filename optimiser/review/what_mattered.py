"""Bars for what mattered, each with its 90 % interval."""

from collections.abc import Sequence

import numpy as np

from optimiser.review.drawing import View, laid_out, new_figure, own_look, shortened
from optimiser.review.images import TIP
from optimiser.review.palette import LIGHT
from optimiser.review.shares import NOT_KNOWN, Share


def what_mattered(shares: Sequence[Share]) -> View:
    """Share of the score's variation owed to each setting, the largest on top."""
    with own_look():
        figure = new_figure("mattered", finding(shares), 1.4 + 0.55 * len(shares))
        axes = figure.add_subplot()
        axes.grid(axis="x")
        for place, share in enumerate(shares):
            known = share.verdict != NOT_KNOWN
            (bar,) = axes.barh(
                [place],
                [100 * share.share],
                height=0.55,
                facecolor=LIGHT.belief if known else "none",
                edgecolor=LIGHT.belief,
                hatch=None if known else "////",
                linewidth=1.2,
            )
            bar.set_gid(TIP + said_of(share))
            axes.plot([100 * share.low, 100 * share.high], [place] * 2, color=LIGHT.ink, lw=1.4, marker="|", ms=9)
            axes.text(101, place, share.verdict, va="center", clip_on=False)
        axes.set_yticks(np.arange(len(shares)), [shortened(share.setting, 14) for share in shares])
        axes.invert_yaxis()
        axes.set_xlim(0, 100)
        axes.set_xlabel("share of the score's variation (%), 90 % interval")
    rows = tuple(
        (
            share.setting,
            f"{100 * share.share:.0f} %",
            f"{100 * share.low:.0f} to {100 * share.high:.0f} %",
            share.verdict,
        )
        for share in shares
    )
    return View(laid_out(figure), ("setting", "share", "90 % interval", "verdict"), rows)


def finding(shares: Sequence[Share]) -> str:
    """The most important setting in a sentence, or that it is not known yet."""
    if shares and shares[0].verdict == "matters":
        return f"{shares[0].setting.capitalize()} mattered most: {100 * shares[0].share:.0f}\u00a0% of the variation"
    return "Which setting mattered most is not known yet"


def said_of(share: Share) -> str:
    """A share in a short sentence."""
    percent = f"{100 * share.share:.0f} % ({100 * share.low:.0f} to {100 * share.high:.0f})"
    return f"{share.setting}: {percent}, {share.verdict}"
