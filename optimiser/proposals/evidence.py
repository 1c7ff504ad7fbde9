"""What the trials of a study say about the overall score and the reading, as numbers for the surrogate."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.space import Settings, encode, encoding
from optimiser.study import Part, Study, Trial
from optimiser.surrogate import Array, Effort, fit, kernel_of, mixture

FAILED_SPREAD: Final = 0.5
"""A failed run counts as the lowest score so far, give or take half the scores' spread (a choice, no source)."""

LEAST_SPREAD: Final = 1e-6
"""Range of a part's logarithm below which it has never changed."""

UNKNOWN_LOG_SD: Final = 0.5
"""Standard deviation of the logarithm of a part's desirability that was measured once only (a choice, no source)."""


@dataclass(frozen=True)
class Evidence:
    """Values measured at some settings.

    Attributes:
        settings: the settings really set, one for each value.
        rows: the same, encoded, shape (n, d).
        values: values measured, shape (n,).
        errors: standard error of each that is known to be noise, shape (n,).
        within: standard error of each within its take, shape (n,); how much of it is noise is not known.
        days: number of the sitting of each, its place in `dates`.
        numbers: number of the trial of each.
        dates: the sittings, as ISO dates in their order; an empty text for trials without one.
    """

    settings: tuple[Settings, ...]
    rows: Array
    values: Array
    errors: Array
    within: Array
    days: tuple[int, ...]
    numbers: tuple[int, ...]
    dates: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.values)


def overall_evidence(study: Study) -> Evidence:
    """Overall scores: measured ones, those with a part missing, and failed runs as low ones."""
    known = {trial.number: study.overall(trial) for trial in study.in_state("measured")}
    gaps = [trial for trial in study.in_state("measured") if known[trial.number] is None]
    outright = {trial.number for trial in study.in_state("measured") if trial.overall is not None}
    scored = {number: figures for number, figures in known.items() if figures is not None}
    within = {number: se for number, (_, se) in scored.items() if number not in outright}
    found = {number: (value, 0.0 if number in within else se) for number, (value, se) in scored.items()}
    found |= _filled(study, gaps)
    if found:
        found |= _failed(study, {number: value for number, (value, _) in found.items()})
    return _evidence(study, [trial for trial in study.trials if trial.number in found], found, within)


@dataclass(frozen=True)
class Factor:
    """One part of the overall score by itself.

    Attributes:
        name: of the part.
        power: with which its desirability counts.
        logs: logarithms of its desirability.
    """

    name: str
    power: float
    logs: Evidence


def factors_of(study: Study) -> tuple[float, tuple[Factor, ...]]:
    """The parts of the overall score, where every trial that has some of them has all; else none.

    Parts that never changed make up the first number, the overall score where all others are perfect. No parts are
    told when only one changed. Trials with a reading alone have no say.
    """
    measured = study.in_state("measured")
    if any(trial.overall is not None for trial in measured):
        return 100.0, ()
    each = {trial.number: study.parts(trial) for trial in measured}
    known = {number: own for number, own in each.items() if any(part.desirability is not None for part in own)}
    if any(part.desirability is None for own in known.values() for part in own):
        return 100.0, ()
    laid = _laid(study, [t for t in study.in_state("measured", "failed") if t.number in known or t.state == "failed"])
    top, factors = 100.0, []
    for parts in zip(*known.values(), strict=True):
        logs = {n: math.log(part.desirability or 1.0) for n, part in zip(known, parts, strict=True)}
        power = parts[0].weight / sum(part.weight for part in next(iter(known.values())))
        if max(logs.values()) - min(logs.values()) < LEAST_SPREAD:
            top *= math.exp(power * min(logs.values()))
            continue
        within = {n: part.se / (part.desirability or 1.0) for n, part in zip(known, parts, strict=True)}
        found = {n: (value, 0.0) for n, value in logs.items()} | _failed(study, logs)
        factors.append(Factor(parts[0].name, power, laid.evidence(found, within)))
    return (top, tuple(factors)) if len(factors) > 1 else (100.0, ())


def reading_evidence(study: Study) -> Evidence:
    """Readings of trials that were measured or failed."""
    trials = [trial for trial in study.in_state("measured", "failed") if trial.reading is not None]
    return _evidence(study, trials, {trial.number: (trial.reading or 0.0, 0.0) for trial in trials}, {})


@dataclass(frozen=True)
class _Laid:
    """Trials in the order of their settings, with what all evidence of them has in common."""

    trials: tuple[Trial, ...]
    rows: Array
    days: tuple[int, ...]
    dates: tuple[str, ...]

    def evidence(self, found: dict[int | None, tuple[float, float]], within: dict[int | None, float]) -> Evidence:
        """Values with their errors, by number of the trial."""
        return Evidence(
            settings=tuple(dict(trial.settings) for trial in self.trials),
            rows=self.rows,
            values=np.array([found[trial.number][0] for trial in self.trials]),
            errors=np.array([found[trial.number][1] for trial in self.trials]),
            within=np.array([within.get(trial.number, 0.0) for trial in self.trials]),
            days=self.days,
            numbers=tuple(trial.number or 0 for trial in self.trials),
            dates=self.dates,
        )


def _laid(study: Study, trials: Sequence[Trial]) -> _Laid:
    space = study.sheet.space
    ordered = tuple(sorted(trials, key=lambda trial: (space.key(trial.settings), trial.number)))
    dates = tuple(sorted({trial.day or "" for trial in ordered}))
    rows = encode(space, [trial.settings for trial in ordered])
    return _Laid(ordered, rows, tuple(dates.index(trial.day or "") for trial in ordered), dates)


def _evidence(
    study: Study,
    trials: Sequence[Trial],
    found: dict[int | None, tuple[float, float]],
    within: dict[int | None, float],
) -> Evidence:
    return _laid(study, trials).evidence(found, within)


def _failed(study: Study, values: Mapping[int | None, float]) -> dict[int | None, tuple[float, float]]:
    """As far below the mean of its day as any score lies below that of its own."""
    by_day: dict[str | None, list[float]] = {}
    for trial in study.in_state("measured"):
        if trial.number in values:
            by_day.setdefault(trial.day, []).append(values[trial.number])
    means = {day: float(np.mean(scores)) for day, scores in by_day.items()}
    off = [score - means[day] for day, scores in by_day.items() for score in scores]
    usual, doubt = float(np.mean(list(values.values()))), FAILED_SPREAD * float(np.std(off))
    return {trial.number: (means.get(trial.day, usual) + min(off), doubt) for trial in study.in_state("failed")}


def _filled(study: Study, gaps: Sequence[Trial]) -> dict[int | None, tuple[float, float]]:
    """Overall scores of trials that lack a part, which is predicted from the trials that have it.

    A part that no trial has counts for none of them.
    """
    parts = {trial.number: {p.name: p for p in study.parts(trial)} for trial in study.in_state("measured")}
    names = {p.name for own in parts.values() for p in own.values() if p.desirability is not None}
    fills = {name: _predicted_logs(study, name, parts) for name in sorted(names)}
    filled: dict[int | None, tuple[float, float]] = {}
    for trial in gaps:
        own = [part for part in parts[trial.number].values() if part.name in names]
        if any(part.desirability is not None for part in own):
            filled[trial.number] = _combined(own, {name: fills[name].get(trial.number) for name in names})
    return filled


def _combined(parts: Sequence[Part], fills: dict[str, tuple[float, float] | None]) -> tuple[float, float]:
    total = sum(part.weight for part in parts)
    logarithm = relative = 0.0
    for part in parts:
        mean, sd = fills[part.name] or (0.0, 0.0)
        if part.desirability is not None:
            mean, sd = math.log(part.desirability), 0.0
        logarithm += part.weight / total * min(mean, 0.0)
        relative += (part.weight / total * sd) ** 2
    overall = 100.0 * math.exp(logarithm)
    return overall, overall * math.sqrt(relative)


def _predicted_logs(
    study: Study, name: str, parts: dict[int | None, dict[str, Part]]
) -> dict[int | None, tuple[float, float]]:
    """Mean and standard deviation of the log desirability of one part, for the trials that lack it."""
    trials = study.in_state("measured")
    having = [trial for trial in trials if name in parts[trial.number] and _known(parts[trial.number][name])]
    lacking = [trial for trial in trials if name in parts[trial.number] and not _known(parts[trial.number][name])]
    if not lacking:
        return {}
    logs = np.array([math.log(parts[trial.number][name].desirability or 1.0) for trial in having])
    if len(having) < 2:
        return {trial.number: (float(logs.mean()), UNKNOWN_LOG_SD) for trial in lacking}
    space = study.sheet.space
    rows = encode(space, [trial.settings for trial in having])
    within = np.array([parts[t.number][name].se / (parts[t.number][name].desirability or 1.0) for t in having])
    nothing = np.zeros(len(having))
    dates = sorted({trial.day or "" for trial in having})
    days = [dates.index(trial.day or "") for trial in having]
    few = Effort(members=1)
    fitted = fit(kernel_of(encoding(space)), rows, logs, nothing, within=within, days=days, effort=few)
    means, sds = mixture(*fitted.predict(encode(space, [trial.settings for trial in lacking])))
    sds = np.hypot(sds, fitted.noise())
    return {t.number: (float(m), float(s)) for t, m, s in zip(lacking, means, sds, strict=True)}


def _known(part: Part) -> bool:
    return part.desirability is not None
