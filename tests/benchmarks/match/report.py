"""From both tables to the study's figures.

    python -m tests.benchmarks.match.report

Writes `summary.csv`, the pictures, and the part of the study's README between its two marks.
"""

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from optimiser.scoring import MEASURE_VERSION
from tests.benchmarks.match import beside_haaqi, sections
from tests.benchmarks.match.figures import Judged, joined, ladders_of
from tests.benchmarks.match.outside import FOLDER, read
from tests.benchmarks.match.paragraphs import Section
from tests.benchmarks.match.plots import plot_beside_haaqi, plot_ladders

BEGIN: Final = "<!-- from here to the end mark written by tests.benchmarks.match.report -->"
END: Final = "<!-- end -->"
COLUMNS: Final = ("figure", "of", "value", "low", "high", "beside", "cases")


def result(judged: Sequence[Judged]) -> list[Section]:
    """Every section, in the README's order."""
    everything, unseen = judged, [one for one in judged if one.case.unseen]
    judged = [one for one in judged if not one.case.unseen]
    ladders = list(ladders_of(judged))
    return [
        beside_haaqi.on_unseen(unseen),
        beside_haaqi.rank_correlations(judged),
        beside_haaqi.without_one_family(judged),
        sections.falls(ladders),
        sections.spreads(ladders),
        sections.names(judged),
        sections.nuisances(judged),
        sections.all_passes(judged),
        sections.codecs(judged),
        sections.refused(everything),
        beside_haaqi.furthest_from_haaqi(judged),
    ]


def opening(measured: Sequence[dict[str, str]], judged: Sequence[Judged]) -> str:
    """What the figures are figures of."""
    versions = ", ".join(dict.fromkeys(row["measure_version"] for row in measured))
    stale = "" if versions == MEASURE_VERSION else f" (it is {MEASURE_VERSION} by now: measure again)"
    outside = sum(bool(one.outside) for one in judged)
    return (
        f"**Result** for version {versions} of the measure{stale}. {len(judged)} cases, {outside} of them with\n"
        "outside figures. No listening panel stands behind the match score yet, and HAAQI was fitted to listeners'\n"
        "ratings of music through hearing-aid processing, not to guitars."
    )


def rewritten(page: str, text: str) -> str:
    """A README with the part between the marks replaced."""
    return f"{page.split(BEGIN, maxsplit=1)[0]}{BEGIN}\n\n{text}\n\n{END}{page.split(END)[1]}"


def main(folder: Path = FOLDER) -> None:
    """Write everything anew."""
    measured = read(folder / "cases.csv")
    judged = joined(measured, read(folder / "outside.csv"))
    told = result(judged)
    with (folder / "summary.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows(line for section in told for line in section.lines)
    plot_ladders(list(ladders_of(judged)), folder / "ladders.png")
    plot_beside_haaqi([one for one in judged if one.outside], folder / "haaqi.png")
    readme = folder / "README.md"
    text = "\n\n".join([opening(measured, judged), *(section.text for section in told if section.text)])
    readme.write_text(rewritten(readme.read_text(encoding="utf-8"), text), encoding="utf-8")


if __name__ == "__main__":
    main()
