"""What the room hands back: plain values, so that every one of them can be written as JSON."""

from dataclasses import dataclass, field
from typing import Final

from optimiser.space import Settings

SEARCH_VERSION: Final = "5"
"""Raised with every change after which the same study may get another proposal, or other words with it."""


@dataclass(frozen=True)
class Portion:
    """What one setting's change brings.

    Attributes:
        gain: how far it moves the expected overall score, in points; below 0 when it costs some.
        doubt: how far it moves the standard deviation of that expectation, in points.
    """

    gain: float
    doubt: float


@dataclass(frozen=True)
class RunnerUp:
    """Settings that promise a little less and take less effort.

    Attributes:
        settings: the settings.
        expected: predicted overall score.
        expected_se: standard deviation of that prediction.
        effort_minutes: minutes to get there.
    """

    settings: Settings
    expected: float
    expected_se: float
    effort_minutes: float


@dataclass(frozen=True)
class Proposal:
    """The settings to try next.

    Attributes:
        settings: the settings, which the sheet allows.
        expected: predicted overall score, within the ends of its scale; None while nothing is known.
        expected_se: standard deviation of that prediction, without the noise of one trial.
        chance_best: chance that these settings are better than the best tried so far, 0 to 1.
        chance_in_band: chance that the reading is accepted, 0 to 1; None without readings.
        effort_minutes: minutes of handling from the chain's present settings, on top of the trial itself.
        reason: why these, in plain words.
        kind: `first design`, `search`, `repeat` or `check`.
        runner_up: settings that take less effort; None when none is worth it.
        nearest: number of the measured trial whose true score is believed to move most closely with that of these
            settings; None while nothing is known.
        by_setting: for each setting what its change from the nearest trial adds to the expected score and to the
            doubt about it; the gains add up to the difference in expected score, the doubts to that in standard
            deviation. Empty while nothing is known.
        lesson: points by which what the trial tells is expected to raise the best score that can be kept, times the
            chance that its reading is accepted; None where nothing was weighed, as in a first design.
    """

    settings: Settings
    expected: float | None
    expected_se: float | None
    chance_best: float | None
    chance_in_band: float | None
    effort_minutes: float
    reason: str
    kind: str
    runner_up: RunnerUp | None = None
    nearest: int | None = None
    by_setting: dict[str, Portion] = field(default_factory=dict)
    lesson: float | None = None


@dataclass(frozen=True)
class Prediction:
    """What some settings would give.

    Attributes:
        mean: predicted overall score.
        se: standard deviation of the belief about it.
        noise: standard deviation between repeats, on top.
        chance_in_band: chance that the reading is accepted, 0 to 1; None without readings.
    """

    mean: float
    se: float
    noise: float
    chance_in_band: float | None


@dataclass(frozen=True)
class Recommendation:
    """What to keep now, by belief and not by the luckiest number.

    Attributes:
        settings: the settings.
        expected: predicted overall score.
        expected_se: standard deviation of that prediction.
        trial: number of the last measured trial with exactly these settings; None when there is none.
    """

    settings: Settings
    expected: float
    expected_se: float
    trial: int | None = None


@dataclass(frozen=True)
class DayShift:
    """What one day reads high or low by.

    Attributes:
        day: ISO date.
        shift: points by which its overall scores lie above the mean over all trials, settings left out of account.
        shift_se: standard error of that.
        trials: measured trials of the day.
        linked: whether an arrangement tried on the day was tried on another one too; else the shift is told from
            arrangements nearby, and is as small as the scores allow.
    """

    day: str
    shift: float
    shift_se: float
    trials: int
    linked: bool


@dataclass(frozen=True)
class Outlook:
    """What further trials could still gain.

    Attributes:
        gain_left: expected distance of the recommended settings from the best reachable, in points.
        chance_near_best: chance that this distance is at most `eps`, 0 to 1.
        eps: points that are not worth a further trial: the standard deviation between repeats.
        advice: `go on`, `verify` or `stop`.
        minutes_left: minutes until the planned number of trials is made, handling included.
        covered: how many measured trials lie inside the 90 % interval that the others predict for them.
        checked: how many were looked at for that; 0 while there are too few.
        doubted: numbers of trials that fit none of the others and count for little: a botched take, or a wrong number.
        days: what each day reads high or low by, in their order; empty while all trials are of one day.
    """

    gain_left: float
    chance_near_best: float
    eps: float
    advice: str
    minutes_left: float
    covered: int = 0
    checked: int = 0
    doubted: tuple[int, ...] = ()
    days: tuple[DayShift, ...] = ()
