"""What may be set on a chain.

Enters: what a study sheet says of its settings, and arrangements as numbers, names and text. Leaves: checked
arrangements, text for people, and rows of numbers for the surrogate. Knows nothing of scores, trials or files.
"""

from optimiser.space.choice import Choice
from optimiser.space.encoding import Block, encode, encoding
from optimiser.space.knob import Knob
from optimiser.space.mic_spot import AXES, MicPlace, MicSpot, Spot
from optimiser.space.riff_order import RiffOrder
from optimiser.space.rules import Between, Matcher, OneOf, OrderEnds, PlaceWithin, Rule
from optimiser.space.settings import Setting, Settings, UnreadableValue, Value
from optimiser.space.settings_space import SettingsSpace
from optimiser.space.stage import Stage

__all__ = [
    "AXES",
    "Between",
    "Block",
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
    "UnreadableValue",
    "Value",
    "encode",
    "encoding",
]
