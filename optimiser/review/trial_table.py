"""The trials of a study as an HTML table: what was set, what came of it, what changed since the trial before."""

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Final

from optimiser.review.standing import Standing, number_of, plus_minus
from optimiser.space import SettingsSpace, Value, changes
from optimiser.study import STATE_WORDS, Trial

HEAD: Final = ("state", "settings", "changed", "overall", "match", "goal", "articulation", "reading", "note")
"""Columns after the trial's number; one without any entry is left out."""


def trial_table(standing: Standing) -> str:
    """Every trial, the best by belief in bold, those without evidence in quiet ink."""
    trials = standing.study.trials
    cells = [_cells(standing, trial, before) for trial, before in zip(trials, _befores(trials), strict=True)]
    shown = [place for place in range(len(HEAD)) if any(row[place] for row in cells)]
    head = "".join(f'<th scope="col">{name}</th>' for name in ("trial", *(HEAD[place] for place in shown)))
    rows = "".join(
        _row(standing, trial, [(HEAD[p], row[p]) for p in shown]) for trial, row in zip(trials, cells, strict=True)
    )
    return (
        '<table class="trials"><caption>Overall with its 90 % interval, repeatability included; the best by belief in '
        f"bold.</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    )


def changes_shown(space: SettingsSpace, before: Mapping[str, Value], after: Mapping[str, Value]) -> tuple[str, ...]:
    """What was changed, as in `gain 3:00 -> 1:00`; of a riff order only that it changed."""
    return tuple(str(change) for change in changes(space, before, after))


def _befores(trials: Iterable[Trial]) -> list[Trial | None]:
    """For each trial the last one before it that was really made."""
    made: Trial | None = None
    befores = []
    for trial in trials:
        befores.append(made)
        if trial.state in ("measured", "failed"):
            made = trial
    return befores


def _row(standing: Standing, trial: Trial, cells: Sequence[tuple[str, str]]) -> str:
    kind = "best" if trial is standing.best else "made" if trial.counts else "out"
    entries = "".join(
        f'<td class="{label}{"" if html else " none"}" data-label="{label}"><span>{html}</span></td>'
        for label, html in cells
    )
    return f'<tr class="{kind}"><th scope="row" data-label="trial">{trial.number}</th>{entries}</tr>'


def _cells(standing: Standing, trial: Trial, before: Trial | None) -> tuple[str, ...]:
    """The row's cells as HTML, in the order of HEAD."""
    kept = trial.articulation_kept
    return (
        escape(f"{STATE_WORDS.get(trial.state, trial.state)}, {standing.kind(trial)}"),
        _settings(standing, trial),
        _changed(standing, trial, before),
        plus_minus(*standing.score(trial)) if trial in standing.scored else "",
        _number(trial.match),
        _number(trial.goal),
        f"{100 * kept:.0f} % kept" if kept is not None else _number(trial.articulation),
        _number(trial.reading),
        escape(trial.note),
    )


def _settings(standing: Standing, trial: Trial) -> str:
    shown = standing.space.show(dict(trial.settings))
    lines = [f"{escape(name)} {escape(value)}" for name, value in shown.items()]
    outside = standing.space.outside(dict(trial.settings))
    if outside:
        lines.append(f"<em>outside the sheet: {escape(', '.join(outside))}</em>")
    asked = standing.state.asked.get(number_of(trial))
    if asked:
        wanted = changes(standing.space, dict(trial.settings), asked)
        lines += [f"<em>asked for: {escape(change.setting)} {escape(change.after or 'none')}</em>" for change in wanted]
    return "<br>".join(lines)


def _changed(standing: Standing, trial: Trial, before: Trial | None) -> str:
    if before is None:
        return ""
    changed = changes_shown(standing.space, dict(before.settings), dict(trial.settings))
    return "<br>".join(map(escape, changed)) or "nothing"


def _number(figure: float | None) -> str:
    return "" if figure is None else f"{figure:.1f}"
