"""The study sheet as a value: what the hunt is about, what may be set, what counts."""

from dataclasses import dataclass, field
from typing import Final

from optimiser.scoring import PartWeights
from optimiser.space import Settings, SettingsSpace
from optimiser.study.policy import SearchPolicy

DEFAULT_MINUTES_PER_TRIAL: Final = 5.0
"""Minutes for one run of the capture device with its riffs (common practice, no source)."""

DEFAULT_TRIALS_PLANNED: Final = 20
"""Trials; 15 to 30 are usual by hand (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class ReadingBand:
    """The number that the capture device shows after a run, and what is wanted of it.

    Attributes:
        name: what the number is called.
        low: lowest number the device can show.
        high: highest number it can show.
        wanted: least and most of the band that is accepted; 6 to 8 (common practice, no source).
        redo_below: below this the trial failed its purpose; 5 (common practice, no source).
        upper: whether a reading above the band is refused as well, not only warned of.
    """

    name: str = "device reading"
    low: float = 0.0
    high: float = 10.0
    wanted: tuple[float, float] = (6.0, 8.0)
    redo_below: float = 5.0
    upper: bool = False

    @property
    def accepted(self) -> str:
        """What is accepted, as in `device reading 6 or more`."""
        least, most = self.wanted
        return f"{self.name} {least:g} to {most:g}" if self.upper else f"{self.name} {least:g} or more"

    def asks_again(self, reading: float) -> bool:
        """Whether a trial with this reading failed its purpose."""
        return reading < self.redo_below

    def verdict(self, reading: float) -> str:
        """The reading in words; empty when there is nothing to say."""
        if self.asks_again(reading):
            return f"{self.name} below {self.redo_below:g}: do it again, with less gain or a tamer stage first"
        if reading < self.wanted[0]:
            return f"{self.name} below the wanted {self.wanted[0]:g} to {self.wanted[1]:g}"
        if reading > self.wanted[1]:
            return f"{self.name} above the wanted {self.wanted[0]:g} to {self.wanted[1]:g}: check it by ear"
        return ""


@dataclass(frozen=True, kw_only=True)
class OverallWeights:
    """How much each part counts in the overall score; 0 leaves a part out.

    Attributes:
        match: capture against the trial's own reference.
        goal: capture against the goal reference, once there is one.
        articulation: how much of the articulation is kept.
        ear: the practitioner's own verdict.
    """

    match: float = 1.0
    goal: float = 1.0
    articulation: float = 0.5
    ear: float = 0.0


@dataclass(frozen=True, kw_only=True)
class StudySheet:
    """Everything a study starts from.

    Attributes:
        name: letters, digits and dashes.
        title: what people call it.
        timezone: name in the time-zone database; days are counted there.
        minutes_per_trial: what a trial costs even when nothing changes.
        trials_planned: how many trials the practitioner means to make.
        space: what may be set.
        reading: the device's number, None when it shows none.
        overall: weights of the parts.
        match_weights: how much each part of a match score counts; None for the same as in every study.
        policy: how the search is run.
        fixed: the rest of the chain, for the recall sheet.
        goal_settings: settings with which the goal reference was recorded, as far as they are known.
        before: what settings stood at in trials that were made before they were settings, where the `[fixed]` table of
            that time does not say it.
    """

    name: str
    space: SettingsSpace
    title: str = ""
    timezone: str = "UTC"
    minutes_per_trial: float = DEFAULT_MINUTES_PER_TRIAL
    trials_planned: int = DEFAULT_TRIALS_PLANNED
    reading: ReadingBand | None = None
    overall: OverallWeights = field(default_factory=OverallWeights)
    match_weights: PartWeights | None = None
    policy: SearchPolicy = field(default_factory=SearchPolicy)
    fixed: dict[str, str] = field(default_factory=dict)
    goal_settings: Settings = field(default_factory=dict)
    before: Settings = field(default_factory=dict)
