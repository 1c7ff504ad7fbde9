"""What further trials could still gain, and how sure it is that nothing better is left, after each trial."""

from optimiser.review.drawing import View, laid_out, legend_below, new_figure, own_look, trial_ticks
from optimiser.review.images import TIP
from optimiser.review.palette import LIGHT
from optimiser.review.standing import Standing


def outlook_figure(standing: Standing) -> View | None:
    """Expected gain left and chance near best by trial; None while nothing is believed."""
    if standing.outlook is None or not standing.outlooks:
        return None
    afters = [then.after for then in standing.outlooks]
    gains = [then.gain_left for then in standing.outlooks]
    chances = [100 * then.chance_near_best for then in standing.outlooks]
    eps = standing.outlook.eps
    with own_look():
        figure = new_figure("outlook", finding(standing), 4.3)
        upper, lower = figure.subplots(2, 1, sharex=True)
        upper.grid(axis="y")
        lower.grid(axis="y")
        line = f"standard deviation of repeats, {eps:.1f} points"
        upper.axhline(eps, color=LIGHT.quiet, lw=1.1, linestyle=(0, (4, 3)), label=line)
        for axes, heights, unit in ((upper, gains, "points"), (lower, chances, "%")):
            axes.plot(afters, heights, color=LIGHT.belief)
            for after, height in zip(afters, heights, strict=True):
                (drawn,) = axes.plot([after], [height], "o", color=LIGHT.belief)
                drawn.set_gid(f"{TIP}After trial {after}: {height:.1f} {unit}")
        upper.set_ylim(bottom=0, top=1.15 * max([*gains, eps, 0.1]))
        lower.set_ylim(0, 105)
        upper.set_ylabel("gain left (points)")
        lower.set_ylabel("near the best (%)")
        trial_ticks(lower)
        lower.set_xlim(0.3, afters[-1] + 0.7)
        lower.set_xlabel("after trial")
        legend_below(figure, upper, 1)
    rows = tuple(
        (str(then.after), f"{then.gain_left:.1f}", f"{100 * then.chance_near_best:.0f} %") for then in standing.outlooks
    )
    return View(laid_out(figure), ("after trial", "gain left, points", "near the best"), rows)


def finding(standing: Standing) -> str:
    """The present outlook in a sentence."""
    now = standing.outlook
    if now is None:
        return "There is no outlook yet"
    return (
        f"{now.advice.capitalize()}: about {now.gain_left:.1f} points may be left, "
        f"{100 * now.chance_near_best:.0f}\u00a0% sure to be within {now.eps:.1f} of the best"
    )
