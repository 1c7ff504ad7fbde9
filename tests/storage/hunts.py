"""Small real hunts for the tests of the store: a sheet, trials with figures, recordings."""

from datetime import UTC, datetime
from pathlib import Path

from optimiser.storage import Store
from optimiser.study import Event
from optimiser.workflow import Answer, Stamp, log, start

NOW = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)
SHEET = """
[study]
name = "{name}"
[settings.gain]
kind = "knob"
scale = "clock"
low = "8:00"
high = "17:00"
[settings.stage]
kind = "stage"
steps = ["open", "pushed", "full"]
"""


def begin(store: Store, name: str = "combo") -> None:
    start(store, SHEET.format(name=name), Stamp(NOW, "tester"))


def add_trials(store: Store, count: int, name: str = "combo") -> None:
    """Trials of which one event each fills most of a page, so that a damaged page costs one trial."""
    for turn in range(count):
        answer = Answer(
            settings={"gain": 9.0 + 0.1 * turn, "stage": "open"},
            figures={"overall": 40.0 + turn},
            note=f"note of trial {turn + 1} ".ljust(3000, "."),
        )
        log(store, name, answer, Stamp(NOW, "tester", key=f"{name}-{turn}"))


def keep_recording(store: Store, path: Path, content: bytes, name: str = "combo") -> str:
    """A recording of which an event speaks, as of a goal reference."""
    path.write_bytes(content)
    kept = store.audio.keep(path)
    body = {"goal": {"sha256": kept.sha256, "bytes": kept.bytes, "name": kept.name, "seconds": 1.0, "rate_hz": 48000}}
    with store.writing():
        store.append(name, Event("goal recorded", body, NOW.isoformat(), "tester"))
    return kept.sha256


def filled(store: Store, folder: Path, trials: int = 3) -> str:
    """A study with trials and a recording; gives the recording's SHA-256."""
    begin(store)
    add_trials(store, trials)
    return keep_recording(store, folder / "goal.wav", b"the wanted tone" * 1000)
