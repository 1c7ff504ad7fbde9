"""From cases to figures: rank correlations, rises, spreads, names."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

from tests.benchmarks.match.cases import Case, case_of
from tests.benchmarks.match.faults import FAMILIES

RESAMPLES: Final = 2000
THREE_STEPS: Final = 80.0
"""A score of 80 is three just-noticeable steps; from there on the fault should be named."""

SAME_SOUND_DB: Final = 0.02
"""dB. Two tables belong to the same sound when the levels of their captures agree so far."""

Values = NDArray[np.float64]


@dataclass(frozen=True)
class Judged:
    """A case with what the measure and the others say of it.

    Attributes:
        case: which.
        score: match score, None when it was refused.
        first_advice: the first line.
        named: whether that names the fault; None where no words are expected.
        parts: of the measure, in steps, and `esr`.
        outside: figures of others, empty without.
        codec_kbps: rate of a codec.
        capture_dbfs: level of the capture.
    """

    case: Case
    score: float | None
    first_advice: str
    named: bool | None
    parts: Mapping[str, float]
    outside: Mapping[str, float]
    codec_kbps: float | None
    capture_dbfs: float

    def points(self) -> float:
        """The score, 0 for a refused case."""
        return self.score or 0.0


def joined(measured: Sequence[Mapping[str, str]], outside: Sequence[Mapping[str, str]]) -> list[Judged]:
    """Both tables, by the case's name; outside figures of other sound are left aside."""
    by_id = {row["id"]: row for row in outside}
    names = ("tone", "dynamics", "attack", "residual", "texture", "decay", "noise", "esr")
    judged = []
    for row in measured:
        level = float(row["capture_dbfs"])
        other = by_id.get(row["id"])
        if other is not None and abs(float(other["capture_dbfs"]) - level) > SAME_SOUND_DB:
            other = None
        judged.append(
            Judged(
                case=case_of(row["id"]),
                score=float(row["score"]) if row["score"] else None,
                first_advice=row["first_advice"],
                named=row["named"] == "True" if row["named"] else None,
                parts={name: float(row[name]) for name in names if row[name]},
                outside={name: float(value) for name, value in (other or {}).items() if name != "id"},
                codec_kbps=float(row["codec_kbps"]) if row["codec_kbps"] else None,
                capture_dbfs=level,
            )
        )
    return judged


CANDIDATES: Final = (
    "match score", "MR-STFT", "log-mel", "MFCC", "ESR, raw", "ESR, aligned, A-weighted", "tone alone", "residual alone"
)  # fmt: skip


def candidates(judged: Sequence[Judged]) -> dict[str, Values]:
    """Every candidate's verdict on each case, the larger the better; the cases need figures of others."""

    def outside(name: str) -> Values:
        return -np.array([one.outside[name] for one in judged])

    def part(name: str) -> Values:
        return -np.array([one.parts[name] for one in judged])

    values = (
        np.array([one.score for one in judged], dtype=np.float64),
        *(outside(name) for name in ("mr_stft", "log_mel_db", "mfcc", "esr_raw")),
        *(part(name) for name in ("esr", "tone", "residual")),
    )
    return dict(zip(CANDIDATES, values, strict=True))


def spearman(one: Values, other: Values) -> float:
    """Rank correlation, ties sharing their mean rank."""
    return float(np.corrcoef(rankdata(one), rankdata(other))[0, 1])


@dataclass(frozen=True)
class Correlation:
    """A rank correlation with HAAQI.

    Attributes:
        value: of all cases.
        low: lower end of the 95 % bootstrap interval over cases.
        high: upper end.
        behind: share of the resamples in which it lies below the match score's, None for that itself.
    """

    value: float
    low: float
    high: float
    behind: float | None


def correlations(judged: Sequence[Judged], seed: int = 0) -> dict[str, Correlation]:
    """Each candidate's rank correlation with HAAQI, all with the same resamples of the cases."""
    values = candidates(judged)
    truth = np.array([one.outside["haaqi"] for one in judged])
    draws = np.random.default_rng(seed).integers(len(judged), size=(RESAMPLES, len(judged)))
    drawn = {name: np.array([spearman(value[draw], truth[draw]) for draw in draws]) for name, value in values.items()}
    ours = drawn[CANDIDATES[0]]
    told = {}
    for name, value in values.items():
        low, high = np.percentile(drawn[name], [2.5, 97.5])
        behind = None if name == CANDIDATES[0] else float(np.mean(drawn[name] < ours))
        told[name] = Correlation(spearman(value, truth), float(low), float(high), behind)
    return told


@dataclass(frozen=True)
class Ladder:
    """One family of one source at one drive, from small to large.

    Attributes:
        source: what is played.
        drive: of the chain.
        family: of the fault.
        steps: its cases, in the order of size.
    """

    source: str
    drive: float
    family: str
    steps: tuple[Judged, ...]

    @property
    def scores(self) -> list[float]:
        """Scores; a refused case counts 0."""
        return [one.points() for one in self.steps]

    @property
    def rise(self) -> float:
        """The most by which the score rises as the fault grows; below 0 when it always falls."""
        return max(later - earlier for earlier, later in pairwise(self.scores))

    @property
    def riser(self) -> str:
        """The case with the most of a rise."""
        rises = [later - earlier for earlier, later in pairwise(self.scores)]
        return self.steps[int(np.argmax(rises)) + 1].case.id

    @property
    def spread(self) -> float:
        """First score less the last."""
        return self.scores[0] - self.scores[-1]


def ladders_of(judged: Sequence[Judged]) -> Iterator[Ladder]:
    """Every whole ladder among the cases."""
    by_id = {one.case.id: one for one in judged}
    for source, drive in dict.fromkeys((one.case.source, one.case.drive) for one in judged):
        for family in FAMILIES:
            names = [Case(source, drive, family.name, f"{size:g}").id for size in family.sizes]
            if all(name in by_id for name in names):
                yield Ladder(source, drive, family.name, tuple(by_id[name] for name in names))


def gross(judged: Sequence[Judged]) -> list[Judged]:
    """The cases with a fault of three steps or more that has a name."""
    return [one for one in judged if one.named is not None and one.score is not None and one.score <= THREE_STEPS]
