"""The match score and plain distances beside HAAQI, each with its paragraph and table."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from scipy.stats import rankdata

from tests.benchmarks.match.cases import MIDDLE_DRIVE
from tests.benchmarks.match.figures import (
    CANDIDATES,
    THREE_STEPS,
    Correlation,
    Judged,
    candidates,
    correlations,
    gross,
    spearman,
)
from tests.benchmarks.match.paragraphs import Section, line, table
from tests.benchmarks.match.unseen import SEEN_SINCE, UNSEEN

ENOUGH_OUTSIDE: Final = 10
"""Cases without which no rank correlation is worked out."""

FURTHEST: Final = 12


def _with_haaqi(judged: Sequence[Judged]) -> list[Judged]:
    return [one for one in judged if one.outside and one.score is not None]


def rank_correlations(judged: Sequence[Judged]) -> Section:
    """Rank correlations with HAAQI."""
    known = _with_haaqi(judged)
    sets = {
        "faults without noise or gate": [one for one in known if not one.case.noisy and not one.case.coded],
        "faults, noise, gate and hiss": [one for one in known if not one.case.coded],
        "codecs too": known,
    }
    told = {name: correlations(chosen) for name, chosen in sets.items() if len(chosen) >= ENOUGH_OUTSIDE}
    if not told:
        return Section("**Beside HAAQI.** No outside figures yet.")
    lines = [
        line(f"rank correlation with HAAQI, {name}", candidate, one.value, len(sets[name]))
        | {"low": f"{one.low:.3f}", "high": f"{one.high:.3f}"}
        for name, of in told.items()
        for candidate, one in of.items()
    ]
    rows = [
        [candidate, *(_correlation(of[candidate]) for of in told.values())] for candidate in next(iter(told.values()))
    ]
    text = (
        "**Beside HAAQI.** Rank correlation with HAAQI, in brackets the 95 % bootstrap interval over cases and the\n"
        "share of resamples in which the candidate lies behind the match score (`haaqi.png`).\n\n"
    )
    return Section(text + table(["candidate", *(f"{name} ({len(sets[name])})" for name in told)], rows), tuple(lines))


def on_unseen(unseen: Sequence[Judged]) -> Section:
    """Rank correlations, names and order of size on what nothing was tuned on."""
    known = _with_haaqi(unseen)
    if len(known) < ENOUGH_OUTSIDE:
        return Section("")
    sets = {"unseen": [one for one in known if one.case.family not in SEEN_SINCE], "all of them": known}
    told = {name: correlations(chosen) for name, chosen in sets.items()}
    lines = [
        line(f"rank correlation with HAAQI, unseen cases, {name}", candidate, one.value, len(sets[name]))
        | {"low": f"{one.low:.3f}", "high": f"{one.high:.3f}"}
        for name, of in told.items()
        for candidate, one in of.items()
    ]
    rows = [[candidate, *(_correlation(of[candidate]) for of in told.values())] for candidate in CANDIDATES]
    coarse = gross(unseen)
    hits = sum(bool(one.named) for one in coarse)
    lines.append(line("named in the first line", "unseen cases", hits / max(1, len(coarse)), len(coarse)))
    text = (
        f"**On what nothing was tuned on.** {len(UNSEEN)} families of faults through two other chains (`unseen.py`),\n"
        f"written down before any was tried; of these {', '.join(SEEN_SINCE)} has changed the measure since. Of those\n"
        f"with a name that score {THREE_STEPS:g} or less the first line of advice names {hits} of {len(coarse)}.\n\n"
    )
    steps = [[family.name, *_side_by_side(unseen, family.name)] for family in UNSEEN]
    tables = (
        table(["candidate", *(f"{name} ({len(chosen)})" for name, chosen in sets.items())], rows),
        table(["family", "match score", "HAAQI", "first line at the largest"], steps),
    )
    return Section(text + "\n\n".join(tables), tuple(lines))


def _side_by_side(unseen: Sequence[Judged], family: str) -> tuple[str, str, str]:
    """A family's ladder, from small to large."""
    own = [one for one in unseen if one.case.family == family]
    ladder = max((one.case.source for one in own), key=[one.case.source for one in own].count)
    steps = [one for one in own if one.case.source == ladder]
    last = steps[-1]
    return (
        " ".join("refused" if one.score is None else f"{one.score:.1f}" for one in steps),
        " ".join(f"{one.outside['haaqi']:.3f}" if one.outside else "-" for one in steps),
        "another performance" if last.score is None else last.first_advice.split(";")[0] or "nothing",
    )


def _correlation(one: Correlation) -> str:
    behind = f"; {100 * one.behind:.0f} %" if one.behind is not None else ""
    return f"{one.value:.2f} ({one.low:.2f} to {one.high:.2f}{behind})"


def without_one_family(judged: Sequence[Judged]) -> Section:
    """Which families the rank correlations hang on."""
    known = [one for one in _with_haaqi(judged) if not one.case.noisy and not one.case.coded]
    if len(known) < ENOUGH_OUTSIDE:
        return Section("")
    chosen = ("match score", "log-mel", "MFCC")
    parts = [("every family", known)]
    parts += [
        (f"without {family}", [one for one in known if one.case.family != family])
        for family in dict.fromkeys(one.case.family for one in known)
    ]
    by_source = [(one.case.source, one.case.drive) for one in known]
    main = ("reel-short", MIDDLE_DRIVE)
    parts.append(("strings at drive 6", [one for one, of in zip(known, by_source, strict=True) if of == main]))
    parts.append(("all but these", [one for one, of in zip(known, by_source, strict=True) if of != main]))
    rows = []
    for name, cases in parts:
        truth = np.array([one.outside["haaqi"] for one in cases])
        values = candidates(cases)
        rows.append([name, str(len(cases)), *(f"{spearman(values[candidate], truth):.3f}" for candidate in chosen)])
    text = (
        "**What it hangs on.** The same rank correlations, faults without noise or gate, with one family left out,\n"
        "and of two parts of the cases.\n\n"
    )
    return Section(text + table(["cases", "number", *chosen], rows))


def furthest_from_haaqi(judged: Sequence[Judged]) -> Section:
    """The cases on which both disagree most."""
    known = [one for one in _with_haaqi(judged) if not one.case.coded]
    if len(known) < ENOUGH_OUTSIDE:
        return Section("")
    gaps = rankdata([one.points() for one in known]) - rankdata([one.outside["haaqi"] for one in known])
    chosen = [(gaps[place], known[place]) for place in np.argsort(-np.abs(gaps), kind="stable")[:FURTHEST]]
    rows = [[one.case.id, f"{one.points():.1f}", f"{one.outside['haaqi']:.3f}", f"{gap:+.0f}"] for gap, one in chosen]
    text = (
        f"**Furthest from HAAQI** by rank, among the {len(known)} cases without a codec; above 0 the match score is\n"
        "the kinder of the two.\n\n"
    )
    return Section(text + table(["case", "match score", "HAAQI", "ranks apart"], rows))
