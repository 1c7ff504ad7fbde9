"""What the measure says of every case.

    python -m tests.benchmarks.match.ladders
    python -m tests.benchmarks.match.ladders --source reel-short --processes 1

Writes `cases.csv` anew; with `--source` only the lines of that source. The recorded guitar is found through the
environment variables in `sources.py`. Every family and size is taken at three drives on the strings and on both
packages of recorded guitar, and what `outside.py` compares on versions of some 12 s.
"""

import argparse
import csv
import re
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import groupby
from pathlib import Path
from typing import Any, Final

from optimiser.errors import InvalidRecording
from optimiser.scoring import MEASURE_VERSION, Measurement, measure
from tests.benchmarks.match.cases import DRIVES, LONG, Case, Pair, compared_outside, ladders, pair_of
from tests.benchmarks.match.chains import RATE_HZ
from tests.benchmarks.match.outside import FOLDER, read
from tests.benchmarks.match.sources import SOURCES, missing, source

PARTS: Final = ("tone", "dynamics", "attack", "residual", "texture", "decay", "noise")
COLUMNS: Final = (
    *("id", "source", "drive", "family", "size", "score", "score_se", *PARTS, "articulation", "articulation_kept"),
    *("esr", "codec_kbps", "first_advice", "named", "warnings", "capture_dbfs", "measure_version"),
)

Row = dict[str, Any]


def cases() -> list[Case]:
    """All of them, those of one source and drive together."""
    every = [case for played in LONG for drive in DRIVES for case in ladders(played, drive)]
    return every + sorted(compared_outside(), key=lambda case: (case.source, case.drive))


def row_of(case: Case) -> Row:
    """One case measured; a refused one has no score, and its warning says why."""
    pair = pair_of(case)
    row: Row = {"id": case.id, "source": case.source, "drive": case.drive, "family": case.family, "size": case.size}
    row |= {"codec_kbps": pair.codec_kbps, "capture_dbfs": pair.capture_dbfs, "measure_version": MEASURE_VERSION}
    try:
        result = _measured(case, pair)
    except InvalidRecording as refusal:
        return row | {"warnings": f"refused, {refusal.fault}: {refusal}"}
    first = result.advice[0] if result.advice else ""
    return row | {
        "score": result.match,
        "score_se": result.match_se,
        **{part.name: part.steps for part in result.parts},
        "articulation": result.articulation,
        "articulation_kept": result.articulation_kept,
        "esr": result.familiar.esr,
        "first_advice": first,
        "named": named(case.words, first),
        "warnings": " ".join(result.warnings),
    }


def named(words: str | None, advice: str) -> bool | None:
    """Whether a line of advice names the fault; None where no words are expected."""
    return None if words is None else re.search(words, advice, re.IGNORECASE) is not None


def _measured(case: Case, pair: Pair) -> Measurement:
    layout = source(case.source).layout
    return measure(pair.reference, pair.capture, RATE_HZ, capture_rate_hz=pair.rate_hz, layout=layout)


def rows_of(group: Sequence[Case]) -> list[Row]:
    """Cases that share a reference."""
    return [row_of(case) for case in group]


def write(path: Path, rows: Iterable[Row]) -> None:
    """Write the table; numbers keep six digits."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        for row in rows:
            writer.writerow(
                {name: f"{value:.6g}" if isinstance(value, float) else value for name, value in row.items()}
            )


def main() -> None:
    """Read the command line and measure."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "--source", action="append", choices=SOURCES, help="only this source, may be given several times"
    )
    parser.add_argument("--processes", type=int, choices=(1, 2), default=2)
    options = parser.parse_args()
    absent = {name: why for name in SOURCES if (why := missing(name)) is not None}
    for why in absent.values():
        print(why)  # noqa: T201
    asked = [name for name in options.source or SOURCES if name not in absent]
    groups = [
        list(group)
        for _, group in groupby(
            (case for case in cases() if case.source in asked), key=lambda case: (case.source, case.drive)
        )
    ]
    path = FOLDER / "cases.csv"
    kept: list[Row] = [row for row in read(path) if row["source"] not in asked] if options.source else []
    measured: list[Row] = []
    with ProcessPoolExecutor(options.processes) as pool:
        for rows in pool.map(rows_of, groups):
            measured += rows
            print(f"{rows[0]['source']:12} drive {rows[0]['drive']:4g} {len(rows)} cases", flush=True)  # noqa: T201
    write(path, sorted([*kept, *measured], key=lambda row: SOURCES.index(row["source"])))


if __name__ == "__main__":
    main()
