"""Every case of the ladders by its name, and the sound that follows from the name."""

import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from tests.benchmarks.match.chains import CHAINS, RATE_HZ, Chain, Sound
from tests.benchmarks.match.codecs import CODECS
from tests.benchmarks.match.faults import ALL_PASS, FAMILIES, Playing
from tests.benchmarks.match.nuisances import NUISANCES
from tests.benchmarks.match.sources import source
from tests.benchmarks.match.unseen import UNSEEN, UNSEEN_CHAINS, UNSEEN_DRIVE

DRIVES: Final = (1.5, 6.0, 40.0)
MIDDLE_DRIVE: Final = 6.0
NOISE_FAMILIES: Final = ("noise", "gate")
NUISANCE: Final = "nuisance"
HISS: Final = ("other hiss", "hiss 10 dB up")
REFERENCE_SEED: Final = 1
LONG: Final = ("reel", "clips", "notes")

_FAMILIES: Final = {family.name: family for family in (*FAMILIES, ALL_PASS, *UNSEEN)}
_CODECS: Final = {codec.name: codec for codec in CODECS}
_NUISANCES: Final = {nuisance.name: nuisance for nuisance in NUISANCES}


@dataclass(frozen=True)
class Case:
    """One pair of recordings.

    Attributes:
        source: what is played.
        drive: of the reference's chain.
        family: a family of faults, a codec, or `nuisance`.
        size: of the fault as text, `compression_level` of the codec, or the nuisance's name.
    """

    source: str
    drive: float
    family: str
    size: str

    @property
    def id(self) -> str:
        """Its name."""
        return f"{self.source}/{self.drive:g}/{self.family}/{self.size}"

    @property
    def unseen(self) -> bool:
        """Whether nothing was tuned on it."""
        return self.source in UNSEEN_CHAINS

    @property
    def coded(self) -> bool:
        """Whether it went through a codec."""
        return self.family in _CODECS

    @property
    def noisy(self) -> bool:
        """Whether noise or a gate is all that differs."""
        return self.family in NOISE_FAMILIES or (self.family == NUISANCE and self.size in HISS)

    @property
    def words(self) -> str | None:
        """The pattern that names its fault."""
        return _FAMILIES[self.family].words if self.family in _FAMILIES else None


@dataclass(frozen=True, eq=False)
class Pair:
    """A case's sound.

    Attributes:
        reference: (n,) at 48 kHz.
        capture: (m,) at `rate_hz`.
        rate_hz: of the capture.
        codec_kbps: rate of the codec, None without one.
    """

    reference: Sound
    capture: Sound
    rate_hz: int = RATE_HZ
    codec_kbps: float | None = None

    @property
    def capture_dbfs(self) -> float:
        """Level of the capture; tells whether stored figures belong to the same sound."""
        return float(10.0 * np.log10(np.mean(self.capture**2)))


def case_of(name: str) -> Case:
    """The case of a name."""
    played, drive, family, size = name.split("/")
    return Case(played, float(drive), family, size)


def chain_of(played: str, drive: float) -> Chain:
    """The chain that a source is played through at a drive: the soft clipper for all but what is unseen."""
    return replace(UNSEEN_CHAINS.get(played, CHAINS["soft clipper"]), drive=drive)


@lru_cache(maxsize=2)
def reference_of(played: str, drive: float) -> Sound:
    """The reference that all cases of one source and drive share; not to be written to."""
    return chain_of(played, drive).play(source(played).dry, REFERENCE_SEED)


@lru_cache(maxsize=2)
def _playing(played: str, drive: float) -> Playing:
    dry = source(played)
    return Playing(dry.dry, dry.starts, chain_of(played, drive), 0)


def pair_of(case: Case) -> Pair:
    """A case's sound; its noise is seeded by its name."""
    reference, clean = reference_of(case.source, case.drive), _playing(case.source, case.drive)
    if case.family == NUISANCE:
        nuisance = _NUISANCES[case.size]
        return Pair(reference, nuisance.apply(clean), nuisance.rate_hz)
    if case.family in _CODECS:
        coded, rate_kbps = _CODECS[case.family].coded(clean.sound, float(case.size))
        return Pair(reference, coded, codec_kbps=rate_kbps)
    playing = replace(clean, seed=zlib.crc32(case.id.encode()))
    return Pair(reference, _FAMILIES[case.family].apply(playing, float(case.size)))


def ladders(played: str, drive: float) -> Iterator[Case]:
    """Every family and size, the all-passes and nuisances; the codecs at the middle drive."""
    for family in (*FAMILIES, ALL_PASS):
        yield from (Case(played, drive, family.name, f"{size:g}") for size in family.sizes)
    for codec in CODECS if drive == MIDDLE_DRIVE else ():
        yield from (Case(played, drive, codec.name, f"{level:g}") for level in codec.levels)
    yield from (Case(played, drive, NUISANCE, nuisance.name) for nuisance in NUISANCES)


def unseen() -> list[Case]:
    """The cases on which nothing was tuned: of every family all sizes on one source, the middle one on the other."""
    cases = []
    for place, family in enumerate(UNSEEN):
        ladder, single = list(UNSEEN_CHAINS)[:: 1 if place % 2 else -1]
        cases += [Case(ladder, UNSEEN_DRIVE, family.name, f"{size:g}") for size in family.sizes]
        cases.append(Case(single, UNSEEN_DRIVE, family.name, f"{family.sizes[1]:g}"))
    return sorted(cases, key=lambda case: case.source)


def compared_outside() -> list[Case]:
    """The cases of some 12 s whose figures by others are kept, the strings at the middle drive first.

    Of the other sources and drives two sizes of every family, spread in turn, and four cases with noise or a gate each
    at two of them, and those that are unseen.
    """
    main = [case for case in ladders("reel-short", MIDDLE_DRIVE) if case.family != NUISANCE]
    main += [Case("reel-short", MIDDLE_DRIVE, NUISANCE, size) for size in HISS]
    others = [(played, drive) for played in ("reel-short", "clips-short", "notes-short") for drive in DRIVES]
    others.remove(("reel-short", MIDDLE_DRIVE))
    spread = []
    clean = [family for family in FAMILIES if family.name not in NOISE_FAMILIES]
    for place, family in enumerate(clean):
        for step, size in enumerate((family.sizes[len(family.sizes) // 2], family.sizes[-1])):
            spread.append(Case(*others[(3 * place + 5 * step) % len(others)], family.name, f"{size:g}"))
    for played in ("clips-short", "notes-short"):
        spread += [Case(played, MIDDLE_DRIVE, family, size) for family, size in _NOISE_CHOSEN]
        spread += [Case(played, MIDDLE_DRIVE, NUISANCE, size) for size in HISS]
    return main + sorted(spread, key=lambda case: (case.source, case.drive)) + unseen()


_NOISE_CHOSEN: Final = (("noise", "50"), ("noise", "30"), ("gate", "-40"), ("gate", "-30"))
