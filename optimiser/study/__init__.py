"""What was asked and what was tried.

Enters: the text of a study sheet, figures of trials, events. Leaves: a study as a value, its overall scores, JSON.
Knows nothing of how a proposal is made, of files, or of the clock.
"""

from optimiser.study.codec import (
    canonical_json,
    seed_of,
    seed_of_made,
    seed_of_settings,
    study_from_json,
    study_to_json,
    trial_from_json,
    trial_to_json,
)
from optimiser.study.events import Event, StudyState, fold, started
from optimiser.study.history import Study
from optimiser.study.overall import Part, combine, desirability, nearness, parts_of
from optimiser.study.policy import ENGINES, SearchPolicy
from optimiser.study.proof_reels import goes_with, sum_of_layout
from optimiser.study.rescoring import parts_as_scored, steps_of, why_kept
from optimiser.study.sheet import OverallWeights, ReadingBand, StudySheet
from optimiser.study.sheet_text import load_sheet, sheet_from_tables, sheet_to_tables, write_sheet
from optimiser.study.trial import ENTRY_WORDS, STATE_WORDS, STATES, Trial
from optimiser.study.versions import Carried, trials_in_words

__all__ = [
    "ENGINES",
    "ENTRY_WORDS",
    "STATES",
    "STATE_WORDS",
    "Carried",
    "Event",
    "OverallWeights",
    "Part",
    "ReadingBand",
    "SearchPolicy",
    "Study",
    "StudySheet",
    "StudyState",
    "Trial",
    "canonical_json",
    "combine",
    "desirability",
    "fold",
    "goes_with",
    "load_sheet",
    "nearness",
    "parts_as_scored",
    "parts_of",
    "seed_of",
    "seed_of_made",
    "seed_of_settings",
    "sheet_from_tables",
    "sheet_to_tables",
    "started",
    "steps_of",
    "study_from_json",
    "study_to_json",
    "sum_of_layout",
    "trial_from_json",
    "trial_to_json",
    "trials_in_words",
    "why_kept",
    "write_sheet",
]
