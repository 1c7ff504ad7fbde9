"""The steps of a hunt, each one function that terminal and service call alike.

Enters: an open store, words and files of the practitioner, a stamp of when and by whom. Leaves: views, which are JSON
values. Every step that writes does so under the store's lock. Knows nothing of terminals or HTTP.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from optimiser.workflow.advising import advisers_of, choose_advisers
    from optimiser.workflow.amendments import Amendment, amend, unvoid, void
    from optimiser.workflow.arrivals import add_piece, called, recording_view
    from optimiser.workflow.beginning import record_goal, start
    from optimiser.workflow.ears import weights_by_ear
    from optimiser.workflow.excerpts import Excerpt, Window, excerpt
    from optimiser.workflow.exchange import export_document, exported, import_document, imported
    from optimiser.workflow.files import read_text
    from optimiser.workflow.hearing import (
        Listening,
        answer_blind_test,
        begin_blind_test,
        blind_test,
        clip,
        clips_of,
        stop_blind_test,
    )
    from optimiser.workflow.keeping import backup, doctor, fault_of_copy, fault_of_doctor, move, recover
    from optimiser.workflow.looking import all_studies, measure_view, predicted, reviewed
    from optimiser.workflow.next_trial import Wish, next_trials
    from optimiser.workflow.notes import import_notes
    from optimiser.workflow.past import history
    from optimiser.workflow.pictures import drawn, recalled, write_recall
    from optimiser.workflow.plain_json import finite
    from optimiser.workflow.present import outlook_of, study_view, trial_of, trials_view
    from optimiser.workflow.reel_files import ReelWish, reel_bytes, remember_reel, write_reel
    from optimiser.workflow.rehearsing import rehearse
    from optimiser.workflow.remeasuring import RemeasureWish, merged, remeasure
    from optimiser.workflow.replay import replayed
    from optimiser.workflow.stamp import Stamp
    from optimiser.workflow.takes import Answer, check_answer, log, take
    from optimiser.workflow.undoing import undo
    from optimiser.workflow.views import View

_FILES: Final[dict[str, tuple[str, ...]]] = {
    "advising": ("advisers_of", "choose_advisers"),
    "amendments": ("Amendment", "amend", "unvoid", "void"),
    "arrivals": ("add_piece", "called", "recording_view"),
    "beginning": ("record_goal", "start"),
    "ears": ("weights_by_ear",),
    "excerpts": ("Excerpt", "Window", "excerpt"),
    "exchange": ("export_document", "exported", "import_document", "imported"),
    "files": ("read_text",),
    "hearing": (
        "Listening",
        "answer_blind_test",
        "begin_blind_test",
        "blind_test",
        "clip",
        "clips_of",
        "stop_blind_test",
    ),
    "keeping": ("backup", "doctor", "fault_of_copy", "fault_of_doctor", "move", "recover"),
    "looking": ("all_studies", "measure_view", "predicted", "reviewed"),
    "next_trial": ("Wish", "next_trials"),
    "notes": ("import_notes",),
    "past": ("history",),
    "pictures": ("drawn", "recalled", "write_recall"),
    "plain_json": ("finite",),
    "present": ("outlook_of", "study_view", "trial_of", "trials_view"),
    "reel_files": ("ReelWish", "reel_bytes", "remember_reel", "write_reel"),
    "rehearsing": ("rehearse",),
    "replay": ("replayed",),
    "remeasuring": ("RemeasureWish", "merged", "remeasure"),
    "stamp": ("Stamp",),
    "takes": ("Answer", "check_answer", "log", "take"),
    "undoing": ("undo",),
    "views": ("View",),
}

__all__ = [
    "Amendment",
    "Answer",
    "Excerpt",
    "Listening",
    "ReelWish",
    "RemeasureWish",
    "Stamp",
    "View",
    "Window",
    "Wish",
    "add_piece",
    "advisers_of",
    "all_studies",
    "amend",
    "answer_blind_test",
    "backup",
    "begin_blind_test",
    "blind_test",
    "called",
    "check_answer",
    "choose_advisers",
    "clip",
    "clips_of",
    "doctor",
    "drawn",
    "excerpt",
    "export_document",
    "exported",
    "fault_of_copy",
    "fault_of_doctor",
    "finite",
    "history",
    "import_document",
    "import_notes",
    "imported",
    "log",
    "measure_view",
    "merged",
    "move",
    "next_trials",
    "outlook_of",
    "predicted",
    "read_text",
    "recalled",
    "record_goal",
    "recording_view",
    "recover",
    "reel_bytes",
    "rehearse",
    "remeasure",
    "remember_reel",
    "replayed",
    "reviewed",
    "start",
    "stop_blind_test",
    "study_view",
    "take",
    "trial_of",
    "trials_view",
    "undo",
    "unvoid",
    "void",
    "weights_by_ear",
    "write_recall",
    "write_reel",
]


def __getattr__(name: str) -> object:
    """Load a step from its file on first use (PEP 562), so that a quick command does not wait for the others."""
    for file, names in _FILES.items():
        if name in names:
            return getattr(import_module(f"optimiser.workflow.{file}"), name)
    raise AttributeError(f"module 'optimiser.workflow' has no attribute {name!r}")
