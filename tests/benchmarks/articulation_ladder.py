"""Whether articulation falls with drive, and stays where it is when only the tone or level of a recording changes.

    python -m tests.benchmarks.articulation_ladder

Writes `table.csv` and the figures of the README in the study's folder. Recorded guitar is added where the folder of
clips is there (see `tests.benchmarks.match.sources`).
"""

import csv
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np

from optimiser.audio import build_reel
from optimiser.errors import InvalidRecording
from optimiser.rehearsal import LEARNING_RIFFS, VERIFY_RIFFS, play_riff
from optimiser.scoring import ReelLayout
from optimiser.scoring.articulation import Articulation
from optimiser.scoring.comparison import compare
from optimiser.scoring.recording import array_sound
from optimiser.scoring.track import track_of
from tests.benchmarks.match.chains import CHAINS, RATE_HZ, Response, Sound, Spectrum, through
from tests.benchmarks.match.faults import loud_rms, shelf_below, tilt
from tests.benchmarks.match.nuisances import delayed
from tests.benchmarks.match.sources import CLIPS, CLIPS_FOLDER, CLIPS_INSTALLED, missing, read_clip

FOLDER: Final = Path(__file__).parents[2] / "studies" / "articulation-ladder"
MARK: Final = "<!-- figures -->"

DRIVES: Final = (0.5, 1.5, 3.0, 6.0, 12.0, 40.0)
CLIPPING_DRIVES: Final = (1.5, 2.5, 3.5, 6.0, 12.0, 40.0)
"""Of the hard clipper, which clips nothing up to some 2 and until then only makes the sound louder."""

LADDERS: Final = {name: CLIPPING_DRIVES if chain.knee == "hard" else DRIVES for name, chain in CHAINS.items()}

MOST_POINTS: Final = 2.0
"""By how much tone, level, polarity, delay or faint hiss may move articulation (ours)."""

SIZE_DB: Final = 8.0
"""Of tilts (over five octaves) and shelves."""

HISS_DB: Final = -60.0
CLIP_S: Final = 8.0

Change = Callable[[Sound], Sound]


@dataclass(frozen=True, eq=False)
class Played:
    """Something dry to play, with the layout of its reel if it is one."""

    dry: Sound
    layout: ReelLayout | None = None


@dataclass(frozen=True)
class Move:
    """Points of articulation, and the change that caused them."""

    points: float
    cause: str


@dataclass(frozen=True)
class Row:
    """One chain at one drive.

    Attributes:
        source: what is played.
        chain: its name.
        drive: of the chain.
        told: of its recording.
        tone: largest move by tilts and shelves of the capture.
        other: largest move by level, polarity, delay and hiss of the capture.
        both: largest move by tilts of reference and capture.
        refused: changes after which the capture was taken for no recording of the same performance.
    """

    source: str
    chain: str
    drive: float
    told: Articulation
    tone: Move
    other: Move
    both: Move
    refused: str

    def cells(self) -> dict[str, str | float | None]:
        """One line of the table."""
        figures = {name: None if figure is None else round(figure, 3) for name, figure in asdict(self.told).items()}
        moves = {
            f"{name}_{part}": value
            for name in ("tone", "other", "both")
            for part, value in (
                ("points", round(getattr(self, name).points, 3)),
                ("cause", getattr(self, name).cause),
            )
        }
        where = {"source": self.source, "chain": self.chain, "drive": self.drive}
        return {**where, "articulation": round(self.told.score, 3), **figures, **moves, "refused": self.refused}


def shelf_above(hertz: Sound, corner_hz: float, gain_db: float) -> Spectrum:
    """A first-order shelf that lifts above the corner."""
    return np.asarray(10.0 ** (gain_db / 20.0) * shelf_below(hertz, corner_hz, gain_db), dtype=np.complex128)


def hissing(sound: Sound) -> Sound:
    """The sound with noise of -60 dB against its loud parts."""
    noise = np.random.default_rng(7).normal(size=sound.size)
    return np.asarray(sound + noise * loud_rms(sound) * 10.0 ** (HISS_DB / 20.0))


def toned(shape: str, size_db: float) -> Change:
    """Through a tilt or shelf."""
    responses: dict[str, Response] = {
        "tilt": lambda hertz: np.asarray(tilt(hertz, size_db), dtype=np.complex128),
        "shelf below 250 Hz": lambda hertz: shelf_below(hertz, 250.0, -size_db),
        "shelf above 3 kHz": lambda hertz: shelf_above(hertz, 3000.0, size_db),
    }
    return lambda sound: through(sound, responses[shape])


TONES: Final[Mapping[str, Change]] = {
    f"{shape} {size_db:+.0f} dB": toned(shape, size_db)
    for size_db in (SIZE_DB, -SIZE_DB)
    for shape in ("tilt", "shelf below 250 Hz", "shelf above 3 kHz")
}
TILTS: Final = {name: change for name, change in TONES.items() if name.startswith("tilt")}
OTHERS: Final[Mapping[str, Change]] = {
    "level": lambda sound: 0.3 * sound,
    "polarity": lambda sound: -sound,
    "delay": lambda sound: delayed(sound, 500.37),
    "hiss": hissing,
}


def articulation(reference: Sound, capture: Sound, layout: ReelLayout | None) -> Articulation:
    """Of the capture."""
    real, copy = (track_of(array_sound(sound, RATE_HZ, "sound"), 0, 0.0) for sound in (reference, capture))
    return compare(real, copy, layout, "reference").articulation[1]


Moves = dict[str, float | None]


def moves_of(
    sound: Sound, plain: Articulation, layout: ReelLayout | None, changes: Mapping[str, Change], *, both: bool = False
) -> Moves:
    """Points by which each change of the capture, or of both recordings, moves articulation; None where refused."""
    moves: Moves = {}
    for name, change in changes.items():
        changed = change(sound)
        try:
            moves[name] = articulation(changed if both else sound, changed, layout).score - plain.score
        except InvalidRecording:
            moves[name] = None
    return moves


def largest(moves: Moves) -> Move:
    """The largest move and what caused it."""
    told = {name: move for name, move in moves.items() if move is not None}
    worst = max(told, key=lambda name: abs(told[name]))
    return Move(told[worst], worst)


def ladder(name: str, played: Played) -> Iterator[Row]:
    """Every chain at every drive."""
    for chain_name, drives in LADDERS.items():
        for drive in drives:
            sound = replace(CHAINS[chain_name], drive=drive).play(played.dry)
            told = articulation(sound, sound, played.layout)
            tone, other = (moves_of(sound, told, played.layout, changes) for changes in (TONES, OTHERS))
            both = moves_of(sound, told, played.layout, TILTS, both=True)
            refused = "; ".join(change for change, move in {**tone, **other}.items() if move is None)
            yield Row(name, chain_name, drive, told, largest(tone), largest(other), largest(both), refused)


def sources() -> Iterator[tuple[str, Played]]:
    """Both reels of the rehearsal amp, and recorded guitar where it is there."""
    for name, riffs in (("proof reel", LEARNING_RIFFS), ("verify reel", VERIFY_RIFFS)):
        reel = build_reel({riff: play_riff(riff) for riff in riffs}, riffs, "proof", RATE_HZ)
        yield name, Played(reel.samples, reel.layout)
    left_out = missing("clips")
    if left_out:
        sys.stderr.write(f"{left_out}\n")
        return
    folder = Path(os.environ.get(CLIPS_FOLDER, CLIPS_INSTALLED))
    for clip in CLIPS:
        yield Path(clip).stem, Played(read_clip(folder / clip)[: round(CLIP_S * RATE_HZ)])


def falls(rows: list[Row]) -> bool:
    """Whether articulation falls with every step of drive."""
    return all(harder.told.score < softer.told.score for softer, harder in pairwise(rows))


def page(rows: list[Row]) -> Iterator[str]:
    """The README's figures."""
    yield f"Bar: at most {MOST_POINTS:g} points by a tone, level, polarity, delay or hiss of the capture."
    for source in dict.fromkeys(row.source for row in rows):
        here = [row for row in rows if row.source == source]
        yield f"\n### {source}\n"
        yield "| chain | drive | articulation | fill (dB) | dyad (dB) | attack (dB) | moved by tone | by the rest |"
        yield "| --- | --- | --- | --- | --- | --- | --- | --- |"
        for row in here:
            figures = " | ".join("-" if figure is None else f"{figure:.1f}" for figure in asdict(row.told).values())
            moves = " | ".join(f"{move.points:+.2f} ({move.cause})" for move in (row.tone, row.other))
            yield f"| {row.chain} | {row.drive:g} | {row.told.score:.1f} | {figures} | {moves} |"
        yield ""
        yield from summary(here)


def summary(rows: list[Row]) -> Iterator[str]:
    """What one source shows."""
    for chain in CHAINS:
        of_chain = [row for row in rows if row.chain == chain]
        word = "falls" if falls(of_chain) else "does **not** fall"
        tone, other, both = (
            max(abs(move.points) for move in moves)
            for moves in zip(*((row.tone, row.other, row.both) for row in of_chain), strict=True)
        )
        yield (
            f"- {chain}: {word} with every step; tone moves it by at most {tone:.2f} points, the rest by {other:.2f}, "
            f"a tilt that the reference has too by {both:.2f}."
        )
    for row in rows:
        if row.refused:
            yield f"- {row.chain}, drive {row.drive:g}: taken for another performance and left out: {row.refused}."


def write(rows: list[Row], folder: Path) -> None:
    """Write `table.csv` and the README's figures."""
    with (folder / "table.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0].cells()))
        writer.writeheader()
        writer.writerows(row.cells() for row in rows)
    readme = folder / "README.md"
    told, _, _ = readme.read_text(encoding="utf-8").partition(MARK)
    readme.write_text(told + MARK + "\n" + "\n".join(page(rows)) + "\n", encoding="utf-8")


def main() -> None:
    """All sources, into the study's folder."""
    rows: list[Row] = []
    for name, played in sources():
        for row in ladder(name, played):
            rows.append(row)
            sys.stderr.write(f"{row}\n")
    write(rows, FOLDER)


if __name__ == "__main__":
    main()
