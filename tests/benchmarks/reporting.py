"""From hunts to figures: share solved, regret with intervals, and plots."""

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Record = dict[str, Any]

SOLVED_BY: Final = (10, 15, 20, 30)
LEFT_AFTER: Final = (10, 15, 20)
RESAMPLES: Final = 2000
PANELS_A_ROW: Final = 4
NAMES_A_ROW: Final = 5
LINES: Final = {
    "ours": ("#0b5394", "-"),
    "scikit-optimize": ("#b45309", "--"),
    "one at a time": ("#4d7c0f", "-."),
    "random": ("#555555", ":"),
}
"""Colour and dashes of the methods that are always there."""

COSTLY: Final = "job4-costly-mic"
"""The family on which minutes are plotted: trials take 3, moves of the mic 6."""

SPARE_COLOURS: Final = ("#be185d", "#6d28d9", "#0f766e", "#b91c1c", "#a16207", "#0284c7")
SPARE_DASHES: Final = ((0, (6, 1, 1, 1, 1, 1)), (0, (9, 2)), (0, (2, 1)), (0, (4, 1, 1, 1)), (0, (1, 2)))
"""What the others get in turn; their numbers share no divisor, so that thirty methods differ."""


def interval(values: NDArray[np.float64], seed: int = 0) -> tuple[float, float]:
    """95 % bootstrap interval of the mean (percentile method, 2000 resamples)."""
    rng = np.random.default_rng(seed)
    means = values[rng.integers(len(values), size=(RESAMPLES, len(values)))].mean(axis=1)
    low, high = np.percentile(means, [2.5, 97.5])
    return float(low), float(high)


def wilson(solved: int, hunts: int) -> tuple[float, float]:
    """95 % score interval of a share (Wilson 1927)."""
    z = 1.959964
    share, spread = solved / hunts, z**2 / hunts
    centre = (share + spread / 2) / (1 + spread)
    half = z / (1 + spread) * np.sqrt(share * (1 - share) / hunts + spread / (4 * hunts))
    return float(max(0.0, centre - half)), float(min(1.0, centre + half))


def summarise(records: Sequence[Record]) -> dict[str, Any]:
    """One row of the summary: hunts of one family by one method."""
    hunts = len(records)
    at = np.array([record["solved_at"] or np.inf for record in records])
    row: dict[str, Any] = {"hunts": hunts}
    for trials in SOLVED_BY:
        solved = int((at <= trials).sum())
        low, high = wilson(solved, hunts)
        row[f"solved by {trials} (%)"] = f"{100 * solved / hunts:.0f} ({100 * low:.0f}-{100 * high:.0f})"
    median = float(np.median(at))
    row["median trials"] = f"{median:g}" if np.isfinite(median) else "> 30"
    row["median minutes"] = _median_minutes(records)
    for trials in LEFT_AFTER:
        left = np.array([record["regret"][trials - 1] for record in records])
        low, high = interval(left)
        row[f"left after {trials} (%)"] = f"{100 * left.mean():.1f} ({100 * low:.1f}-{100 * high:.1f})"
    row["CPU s per ask"] = f"{np.mean([np.mean(record['seconds']) for record in records]):.3f}"
    return row


def _median_minutes(records: Sequence[Record]) -> str:
    """Minutes of a practitioner's time until half of the hunts are solved."""
    spent = [_minutes_until_solved(record) for record in records if "minutes" in record]
    median = float(np.median(spent)) if spent else np.inf
    return f"{median:.0f}" if np.isfinite(median) else "-"


def _minutes_until_solved(record: Record) -> float:
    return float(sum(record["minutes"][: record["solved_at"]])) if record["solved_at"] else np.inf


def lines(methods: Sequence[str]) -> dict[str, tuple[str, Any]]:
    """Colour and dashes of each method, the same in every panel."""
    others = [method for method in dict.fromkeys(methods) if method not in LINES]
    spare = {
        method: (SPARE_COLOURS[place % len(SPARE_COLOURS)], SPARE_DASHES[place % len(SPARE_DASHES)])
        for place, method in enumerate(others)
    }
    return {**{method: line for method, line in LINES.items() if method in methods}, **spare}


def report(records: Sequence[Record], folder: Path, plotted: Sequence[str]) -> None:
    """Write summary.csv and the plots, and print the summary as a table.

    `plotted` are the methods that are shown over trials; over minutes all are.
    """
    groups: dict[tuple[str, str], list[Record]] = {}
    for record in records:
        groups.setdefault((record["family"], record["method"]), []).append(record)
    families = list(dict.fromkeys(family for family, _ in groups))
    groups = dict(sorted(groups.items(), key=lambda group: families.index(group[0][0])))
    rows = [{"family": family, "method": method, **summarise(group)} for (family, method), group in groups.items()]
    with (folder / "summary.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    for cells in (rows[0], ["---"] * len(rows[0]), *(row.values() for row in rows)):
        print(f"| {' | '.join(str(cell) for cell in cells)} |")  # noqa: T201
    _plot({key: group for key, group in groups.items() if key[1] in plotted}, folder)
    _plot_minutes({method: group for (family, method), group in groups.items() if family == COSTLY}, folder)


def _plot(groups: dict[tuple[str, str], list[Record]], folder: Path) -> None:
    from matplotlib.figure import Figure

    families = list(dict.fromkeys(family for family, _ in groups))
    styles = lines([method for _, method in groups])
    rows = -(-len(families) // PANELS_A_ROW)
    for name in ("solved", "regret"):
        figure = Figure(figsize=(3.4 * PANELS_A_ROW, 3.0 * rows + 0.6), layout="constrained")
        axes = figure.subplots(rows, PANELS_A_ROW, squeeze=False, sharey=True).ravel()
        shown: dict[str, Any] = {}
        for axis, family in zip(axes, families, strict=False):
            for method, (colour, dashes) in styles.items():
                if (family, method) in groups:
                    curve = _curve(name, groups[family, method])
                    width = 2.2 if method == "ours" else 1.4
                    shown[method] = axis.plot(*curve, color=colour, linestyle=dashes, linewidth=width)[0]
            axis.set(title=family, xlabel="trials", ylabel="solved (%)" if name == "solved" else "left (%)")
            axis.grid(color="#dddddd")
        for axis in axes[len(families) :]:
            axis.set_axis_off()
        named = [method for method in styles if method in shown]
        handles = [shown[method] for method in named]
        figure.legend(handles, named, loc="outside lower center", ncols=min(len(named), NAMES_A_ROW), handlelength=3.5)
        figure.savefig(folder / f"{name}.png", dpi=100)


def _plot_minutes(groups: dict[str, list[Record]], folder: Path) -> None:
    """Share solved within so many minutes of a practitioner's time, trials and handling together."""
    from matplotlib.figure import Figure

    timed = {method: group for method, group in groups.items() if all("minutes" in record for record in group)}
    if not timed:
        return
    figure = Figure(figsize=(8.4, 4.2), layout="constrained")
    axis = figure.subplots()
    end = min(sum(record["minutes"]) for group in timed.values() for record in group)
    for method, (colour, dashes) in lines(list(timed)).items():
        spent = np.sort([_minutes_until_solved(record) for record in timed[method]])
        shares = 100.0 * np.arange(1, len(spent) + 1) / len(spent)
        width = 2.2 if method == "ours" else 1.4
        axis.step(
            [0.0, *spent], [0.0, *shares], where="post", color=colour, linestyle=dashes, linewidth=width, label=method
        )
    axis.set(title=COSTLY, xlabel="minutes", ylabel="solved (%)", xlim=(0.0, end), ylim=(0.0, 102.0))
    axis.grid(color="#dddddd")
    figure.legend(loc="outside right center", handlelength=3.5)
    figure.savefig(folder / "minutes.png", dpi=100)


def _curve(name: str, records: Sequence[Record]) -> tuple[NDArray[np.int_], NDArray[np.float64]]:
    trials = np.arange(1, min(len(record["regret"]) for record in records) + 1)
    if name == "solved":
        at = np.array([record["solved_at"] or np.inf for record in records])
        return trials, 100.0 * (at[:, None] <= trials).mean(axis=0)
    return trials, 100.0 * np.mean([record["regret"][: len(trials)] for record in records], axis=0)
