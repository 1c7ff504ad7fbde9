"""The figures of the study, each with its paragraph and table: from judged cases to text, without files."""

from collections.abc import Sequence
from typing import Final

from tests.benchmarks.match.cases import MIDDLE_DRIVE, NUISANCE
from tests.benchmarks.match.faults import ALL_PASS, FAMILIES
from tests.benchmarks.match.figures import THREE_STEPS, Judged, Ladder, gross
from tests.benchmarks.match.nuisances import NUISANCES
from tests.benchmarks.match.paragraphs import Section, line, table

MOST_RISE: Final = 0.05
"""Points by which a score may rise as its fault grows (ours)."""

TRANSPARENT: Final = 0.95
"""HAAQI from which a codec counts as hardly heard (ours)."""

FIRST_DRAFT: Final = {
    "tilt": (99.8, 65.6), "thin": (99.6, 81.0), "harsh": (99.0, 62.0), "notch": (94.8, 37.7), "low-pass": (90.2, 21.3),
    "soft attack": (98.3, 54.4), "compression": (98.0, 36.7), "noise": (100.0, 47.1), "gate": (97.8, 35.1),
    "less drive": (98.7, 41.8), "more drive": (98.9, 26.7), "bias": (98.5, 29.9), "brighter cabinet": (98.3, 79.4),
    "reflection": (94.9, 39.8), "hard clip": (100.0, 50.2),
}  # fmt: skip
"""First and last score of each ladder in the measure's first draft, at drive 6 on other synthetic strings."""


def falls(ladders: Sequence[Ladder]) -> Section:
    """Whether the score falls as a fault grows."""
    steady = sum(ladder.rise <= MOST_RISE for ladder in ladders)
    lines = [line("ladders that never rise", f"by more than {MOST_RISE} points", steady, len(ladders))]
    rows = []
    for family in FAMILIES:
        own = [ladder for ladder in ladders if ladder.family == family.name]
        if own:
            worst = max(own, key=lambda ladder: ladder.rise)
            above = [ladder.riser for ladder in own if ladder.rise > MOST_RISE]
            lines.append(line("largest rise", family.name, worst.rise, len(own)))
            rows.append([family.name, str(len(own)), f"{worst.rise:+.2f}", ", ".join(above)])
    text = (
        f"**Falls as the fault grows.** {steady} of {len(ladders)} ladders never rise by more than {MOST_RISE} points\n"
        "(`ladders.png`). A largest rise below 0 is the least that any step fell.\n\n"
    )
    return Section(text + table(["family", "ladders", "largest rise", "rises at"], rows), tuple(lines))


def spreads(ladders: Sequence[Ladder]) -> Section:
    """First less last score on the strings at the middle drive, beside the first draft's."""
    lines, rows = [], []
    for ladder in ladders:
        if ladder.source == "reel" and ladder.drive == MIDDLE_DRIVE:
            draft = FIRST_DRAFT.get(ladder.family)
            beside = "" if draft is None else f"{draft[0] - draft[1]:.1f}"
            lines.append(line("spread, reel, drive 6", ladder.family, ladder.spread, len(ladder.steps), beside=beside))
            scores = " ".join(f"{score:.1f}" for score in ladder.scores)
            rows.append([ladder.family, scores, f"{ladder.spread:.1f}", beside])
    text = (
        "**Spread** on the strings at drive 6: scores from the smallest size to the largest, the first less the last,\n"
        "and the same in the measure's first draft on other strings.\n\n"
    )
    return Section(text + table(["family", "scores", "spread", "first draft"], rows), tuple(lines))


def names(judged: Sequence[Judged]) -> Section:
    """Share of gross faults that the first line of advice names."""
    chosen = gross(judged)
    lines, rows = [], []
    for family in FAMILIES:
        own = [one for one in chosen if one.case.family == family.name]
        if own:
            hits = sum(bool(one.named) for one in own)
            lines.append(line("named in the first line", family.name, hits / len(own), len(own)))
            rows.append([family.name, f"{hits} of {len(own)}", _commonest(own)])
    hits = sum(bool(one.named) for one in chosen)
    share = hits / max(1, len(chosen))
    lines.append(line("named in the first line", "all", share, len(chosen)))
    text = (
        f"**Named.** {len(chosen)} cases with a fault score {THREE_STEPS:g} or less, three steps or more. The first\n"
        f"line of advice names the fault in {hits} of them ({100 * share:.0f} %).\n\n"
    )
    return Section(text + table(["family", "named", "else most often"], rows), tuple(lines))


def _commonest(own: Sequence[Judged]) -> str:
    wrong = [" ".join(one.first_advice.split()[:4]).rstrip(",.:") or "nothing" for one in own if not one.named]
    return max(sorted(set(wrong)), key=wrong.count) if wrong else ""


def nuisances(judged: Sequence[Judged]) -> Section:
    """What must not count."""
    lines, rows, below, cases = [], [], [], 0
    for nuisance in NUISANCES:
        own = [one for one in judged if one.case.family == NUISANCE and one.case.size == nuisance.name]
        if own:
            worst, bar = min(own, key=Judged.points), nuisance.least_score
            under = [one.case.id for one in own if one.points() < bar]
            lines.append(line("lowest score, nuisance", nuisance.name, worst.points(), len(own), beside=bar))
            rows.append([nuisance.name, str(len(own)), f"{worst.points():.2f}", f"{bar:g}", ", ".join(under)])
            below += under
            cases += len(own)
    lines.append(line("nuisances below their bar", "all", len(below), cases))
    text = f"**What must not count.** {len(below)} of {cases} cases lie below their bar.\n\n"
    return Section(text + table(["nuisance", "cases", "lowest score", "bar", "below the bar"], rows), tuple(lines))


def all_passes(judged: Sequence[Judged]) -> Section:
    """Phase alone."""
    own = sorted((one for one in judged if one.case.family == ALL_PASS.name), key=Judged.points)
    if not own:
        return Section("")
    rows = [[one.case.id, f"{one.points():.1f}"] for one in own[:4]]
    text = f"**All-pass.** The lowest of {len(own)} scores {own[0].points():.1f}; the lowest four:\n\n"
    lines = (line("lowest score", "all-pass", own[0].points(), len(own)),)
    return Section(text + table(["case", "match score"], rows), lines)


def codecs(judged: Sequence[Judged]) -> Section:
    """Lossy codecs whose HAAQI is known."""
    own = [one for one in judged if one.case.coded and one.outside]
    clear = [one for one in own if one.outside["haaqi"] >= TRANSPARENT]
    if not clear:
        return Section("")
    rows = [
        [one.case.id, f"{one.codec_kbps:.0f}", f"{one.outside['haaqi']:.3f}", f"{one.points():.1f}"]
        for one in sorted(own, key=lambda one: -one.outside["haaqi"])
    ]
    lowest = min(map(Judged.points, clear))
    text = f"**Codecs.** The {len(clear)} with a HAAQI of {TRANSPARENT} or more score {lowest:.1f} or more.\n\n"
    lines = (line("lowest score", f"codec with HAAQI {TRANSPARENT} or more", lowest, len(clear)),)
    return Section(text + table(["case", "kbit/s", "HAAQI", "match score"], rows), lines)


def refused(judged: Sequence[Judged]) -> Section:
    """Cases that got no score."""
    own = [one.case.id for one in judged if one.score is None]
    lines = (line("refused", "all", len(own), len(judged)),)
    return Section(f"**Refused**: {', '.join(own) or 'none'}.", lines)
