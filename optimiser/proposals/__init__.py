"""What to try next.

Enters: a study. Leaves: proposals, predictions, what to keep, what further trials could still gain, and the belief
behind them. Knows nothing of recordings, of the store, or of how the answers are shown.
"""

from optimiser.proposals.advisers import refusals
from optimiser.proposals.asking import outlook, predict, propose, recommend
from optimiser.proposals.belief import Belief, believe
from optimiser.proposals.day_shifts import day_shifts, shift_in_words
from optimiser.proposals.effort import handling_minutes, minutes_left, shortest_walk, trial_minutes, walk_minutes
from optimiser.proposals.in_words import advice_in_words, made_in_words, near_in_words, weights_in_words
from optimiser.proposals.proposal import (
    SEARCH_VERSION,
    DayShift,
    Outlook,
    Prediction,
    Proposal,
    Recommendation,
    RunnerUp,
)
from optimiser.proposals.weighing import Adviser, weigh_advisers

__all__ = [
    "SEARCH_VERSION",
    "Adviser",
    "Belief",
    "DayShift",
    "Outlook",
    "Prediction",
    "Proposal",
    "Recommendation",
    "RunnerUp",
    "advice_in_words",
    "believe",
    "day_shifts",
    "handling_minutes",
    "made_in_words",
    "minutes_left",
    "near_in_words",
    "outlook",
    "predict",
    "propose",
    "recommend",
    "refusals",
    "shift_in_words",
    "shortest_walk",
    "trial_minutes",
    "walk_minutes",
    "weigh_advisers",
    "weights_in_words",
]
