"""The dry reel handed over where a recording of it was meant."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from optimiser.audio import open_recording
from optimiser.scoring import Sound, are_copies, imprint
from optimiser.study import StudyState


def dry_of(state: StudyState, recording: Path | Sound) -> dict[str, str]:
    """`dry` with the kind of the study's reel that a recording is a copy of, older ones too; nothing where it is none.

    Raises:
        NotFound: no such file.
        InvalidRecording: a file that cannot be decoded.
    """
    made = (*state.reels.values(), *state.proof_reels.values())
    known = [(reel["kind"], reel["imprint"]) for reel in made if reel.get("imprint")]
    if not known:
        return {}
    own = imprint(open_recording(recording) if isinstance(recording, Path) else recording)
    return next(({"dry": kind} for kind, other in known if own and are_copies(own, other)), {})


def dry_in_words(recordings: Mapping[str, Mapping[str, Any] | None]) -> list[str]:
    """What is wrong with recordings that are dry reels, one sentence each; they are named by their part."""
    return [
        f"The {part} is the dry {kept['dry']} reel itself, no recording of it. Play it through the "
        f"{'capture' if part == 'capture' else 'chain'} and hand over what comes out."
        for part, kept in recordings.items()
        if kept and kept.get("dry")
    ]
