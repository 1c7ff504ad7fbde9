"""What may be set on a chain.

Enters: what a study sheet says of its settings, and arrangements as numbers, names and text. Leaves: checked
arrangements, text for people, and rows of numbers for the surrogate. Knows nothing of scores, trials or files.
"""

from optimiser.space.asking import allowed_in_words
from optimiser.space.changes import Change, changes, changes_in_words
from optimiser.space.choice import DEFAULT_CHOICE_MINUTES, Choice
from optimiser.space.encoding import Block, encode, encoding
from optimiser.space.knob import (
    DEFAULT_CLOCK_TOLERANCE_HOURS,
    DEFAULT_KNOB_MINUTES,
    DEFAULT_NUMBER_STEPS,
    Knob,
)
from optimiser.space.mic_spot import AXES, DEFAULT_MIC_MINUTES, DEFAULT_PLACE_TOLERANCE, MicPlace, MicSpot, Spot
from optimiser.space.riff_order import DEFAULT_ORDER_MINUTES, RiffOrder
from optimiser.space.rules import Between, Matcher, OneOf, OrderEnds, PlaceWithin, Rule
from optimiser.space.settings import NAME_LIMIT, Setting, Settings, UnreadableValue, Value
from optimiser.space.settings_space import SettingsSpace
from optimiser.space.stage import DEFAULT_STAGE_MINUTES, Stage
from optimiser.space.translation import Translation, translate

__all__ = [
    "AXES",
    "DEFAULT_CHOICE_MINUTES",
    "DEFAULT_CLOCK_TOLERANCE_HOURS",
    "DEFAULT_KNOB_MINUTES",
    "DEFAULT_MIC_MINUTES",
    "DEFAULT_NUMBER_STEPS",
    "DEFAULT_ORDER_MINUTES",
    "DEFAULT_PLACE_TOLERANCE",
    "DEFAULT_STAGE_MINUTES",
    "NAME_LIMIT",
    "Between",
    "Block",
    "Change",
    "Choice",
    "Knob",
    "Matcher",
    "MicPlace",
    "MicSpot",
    "OneOf",
    "OrderEnds",
    "PlaceWithin",
    "RiffOrder",
    "Rule",
    "Setting",
    "Settings",
    "SettingsSpace",
    "Spot",
    "Stage",
    "Translation",
    "UnreadableValue",
    "Value",
    "allowed_in_words",
    "changes",
    "changes_in_words",
    "encode",
    "encoding",
    "translate",
]
