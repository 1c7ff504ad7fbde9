"""The whole review on one HTML page that needs nothing from outside and runs no script."""

from collections.abc import Iterable, Mapping
from html import escape
from typing import Final

from optimiser.proposals import (
    Outlook,
    advice_in_words,
    made_in_words,
    near_in_words,
    weigh_advisers,
    weights_in_words,
)
from optimiser.review.cautions import CAUTIONS
from optimiser.review.day_table import DAYS_HEAD, DAYS_NOTE, day_rows
from optimiser.review.drawing import View
from optimiser.review.figures import views_of
from optimiser.review.page_style import STYLE
from optimiser.review.progress import finding
from optimiser.review.reading_relation import RELATION_NOTE, relation_in_words, study_relation
from optimiser.review.shares import NOT_KNOWN
from optimiser.review.standing import Standing, number_of, plus_minus, standing_of
from optimiser.review.trial_table import trial_table
from optimiser.space import RiffOrder
from optimiser.study import StudyState, Trial
from optimiser.units import INTERVAL_SDS, show_minutes

ADVISED_TRIALS: Final = 3
"""Best trials whose advice is shown."""

LISTENERS_NOTE: Final = (
    "No listening panel stands behind the match score yet: it adds up measured differences, and what a given number "
    "sounds like was not tested on people. Let your ears decide before you keep a capture; a blind test helps."
)

_HEADINGS: Final = {
    "progress": "Progress",
    "explored": "Explored space",
    "mic": "Microphone",
    "riffs": "Riff order",
    "mattered": "What mattered",
    "outlook": "Outlook",
    "parts": "Parts of the score",
}


def build_report(
    state: StudyState,
    written: str = "",
    *,
    standing: Standing | None = None,
    views: Mapping[str, View] | None = None,
) -> str:
    """The report of a study.

    Args:
        state: the study's state.
        written: when the report was made, as it shall be shown; left out when empty.
        standing: what `standing_of` made of that state, where it is at hand already.
        views: what `views_of` made of that standing, where they are at hand already.
    """
    standing = standing_of(state) if standing is None else standing
    sheet = state.study.sheet
    title = escape(sheet.title or sheet.name)
    sections = [
        _header(standing, title, written),
        _keep(standing),
        _figures(views_of(standing) if views is None else views),
        f"<section><h2>Trials</h2>{_scrolling('Trials', trial_table(standing))}</section>",
        _days(standing),
        _relation(standing),
        _advice(standing),
        _advisers(standing),
        _fixed(sheet.fixed),
        _list("Cautions", CAUTIONS),
        f"<section><h2>What the numbers are</h2><p>{LISTENERS_NOTE}</p><p>{_about(standing)}</p></section>",
    ]
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{STYLE}</style></head><body><main>{''.join(sections)}</main></body></html>\n"
    )


def where_it_stands(standing: Standing) -> str:
    """One sentence: how many trials, the best so far, whether to go on."""
    measured = len(standing.study.in_state("measured"))
    days = len({trial.day for trial in standing.study.trials if trial.day})
    spent = f"{measured} measured trial{'' if measured == 1 else 's'}" + (f" on {days} days" if days > 1 else "")
    if standing.best is None:
        return f"{spent[0].upper()}{spent[1:]}; no score yet."
    lead = finding(standing)
    advice = f" Advice: {standing.outlook.advice}." if standing.outlook is not None else ""
    basis = standing.study.reading_in_words
    return f"{lead}, after {spent}.{f' Scores go {basis}.' if basis else ''}{advice}"


def _header(standing: Standing, title: str, written: str) -> str:
    pieces = [f"Study {standing.study.sheet.name}", f"written {written}" if written else ""]
    return (
        f'<header><h1>{title}</h1><p class="lead">{escape(where_it_stands(standing))}</p>'
        f'<p class="quiet">{escape(", ".join(filter(None, pieces)))}</p></header>'
    )


def _keep(standing: Standing) -> str:
    """The recommended settings in big type, what to expect of them, and what further trials could gain."""
    kept, ahead = standing.recommendation, standing.outlook
    if kept is None or ahead is None:
        return '<section class="keep"><h2>Recommended</h2><p>Nothing yet: make the first trials.</p></section>'
    entries = "".join(
        f"<div{_wide(standing, name)}><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>"
        for name, value in standing.space.show(kept.settings).items()
    )
    advice = advice_in_words(ahead.advice)
    doubt = INTERVAL_SDS * (standing.noise or 0.0)
    return (
        f'<section class="keep"><h2>Recommended</h2><dl>{entries}</dl>'
        f"<p><strong>Expected score {plus_minus(kept.expected, kept.expected_se)}</strong> (90 % interval of "
        f"the belief; a single take may differ by ± {doubt:.1f} more); {made_in_words(kept.trial)}.</p>"
        f"<p>{advice[0].upper()}{advice[1:]}. About {ahead.gain_left:.1f} points may still be gained; the chance of "
        f"being {near_in_words(ahead.eps)} is {100 * ahead.chance_near_best:.0f} %. "
        f"{show_minutes(ahead.minutes_left)} are left of the planned time, handling included.</p>"
        f"{_trust(ahead)}</section>"
    )


def _trust(ahead: Outlook) -> str:
    """How far the figures above deserve it: the belief against its own trials."""
    checked = (
        f"<p>Checked: left out one by one, {ahead.covered} of {ahead.checked} trials lie inside the 90 % interval that "
        "the others predict.</p>"
        if ahead.checked
        else ""
    )
    doubtful = "".join(
        f"<p>Doubtful: trial {number} fits none of the others and counts for little. A botched take or a wrong number? "
        "Make it again, or leave it.</p>"
        for number in ahead.doubted
    )
    return checked + doubtful


def _wide(standing: Standing, name: str) -> str:
    return ' class="wide"' if isinstance(standing.space.by_name[name], RiffOrder) else ""


def _figures(views: Mapping[str, View]) -> str:
    shown = "".join(_figure(name, view) for name, view in views.items())
    return f'<section><h2>Figures</h2><div class="figures">{shown}</div></section>'


def _figure(name: str, view: View) -> str:
    heading = escape(_HEADINGS.get(name, name.replace("-", ", ").capitalize()))
    return (
        f"<figure><figcaption><strong>{heading}</strong></figcaption>{view.svg}"
        f"<details><summary>Table: {heading.lower()}</summary>"
        f"{_scrolling(f'Table: {heading.lower()}', _table(view.head, view.rows))}</details></figure>"
    )


def _scrolling(label: str, table: str) -> str:
    """A table that scrolls sideways where the page is too narrow, also by keyboard."""
    return f'<div class="scroll" tabindex="0" role="region" aria-label="{label}">{table}</div>'


def _table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    names = "".join(f'<th scope="col">{escape(name)}</th>' for name in head)
    lines = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows)
    return f"<table><thead><tr>{names}</tr></thead><tbody>{lines}</tbody></table>"


def _days(standing: Standing) -> str:
    """What each day reads high or low by, where there are several."""
    days = standing.outlook.days if standing.outlook is not None else ()
    if not days:
        return ""
    return f"<section><h2>Days</h2>{_scrolling('Days', _table(DAYS_HEAD, day_rows(days)))}<p>{DAYS_NOTE}</p></section>"


def _relation(standing: Standing) -> str:
    """How the device's reading goes with what was measured."""
    relations = study_relation(standing.study)
    if not relations:
        return ""
    band = standing.study.sheet.reading
    heading = f"The {escape(band.name if band else 'reading')} against the scores"
    head = ("against", "trials", "rank correlation, 95 % interval", "verdict")
    rows = [
        (r.figure, str(r.trials), relation_in_words(r), r.verdict if r.correlation is not None else "")
        for r in relations
    ]
    return f"<section><h2>{heading}</h2>{_scrolling(heading, _table(head, rows))}<p>{RELATION_NOTE}</p></section>"


def _advice(standing: Standing) -> str:
    """What the measurement had to say of the best trials."""
    best = sorted(standing.scored, key=lambda trial: -standing.believed[number_of(trial)][0])[:ADVISED_TRIALS]
    lines = [line for trial in best for line in _advice_lines(standing, trial)]
    return _list("Advice from the best takes", lines) if lines else ""


def _advice_lines(standing: Standing, trial: Trial) -> list[str]:
    details = standing.state.details.get(number_of(trial), {})
    said = [*(details.get("advice") or ()), *(details.get("warnings") or ())]
    band = standing.study.sheet.reading
    if band is not None and trial.reading is not None and band.verdict(trial.reading):
        said.append(f"{band.verdict(trial.reading)}.")
    return [f"Trial {trial.number}: {line}" for line in said]


def _advisers(standing: Standing) -> str:
    """What earlier studies count for, and what of them could not be carried over."""
    advisers = weigh_advisers(standing.study)
    if not advisers:
        return ""
    weights = weights_in_words(standing.study, {adviser.study: adviser.weight for adviser in advisers})
    ignored = [f"of {adviser.study!r} ignored: {'; '.join(adviser.ignored)}" for adviser in advisers if adviser.ignored]
    return _list("Earlier studies as advisers", [weights, *ignored])


def _fixed(fixed: dict[str, str]) -> str:
    return _list("The rest of the chain", [f"{name}: {value}" for name, value in fixed.items()]) if fixed else ""


def _list(heading: str, lines: Iterable[str]) -> str:
    entries = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<section><h2>{heading}</h2><ul>{entries}</ul></section>"


def _about(standing: Standing) -> str:
    shares = (
        " A share that is not known yet may be anything in its interval."
        if any(share.verdict == NOT_KNOWN for share in standing.shares)
        else ""
    )
    return (
        "Predictions, intervals and shares are beliefs that follow from the trials and change with each new one. "
        f"Intervals hold 90 % unless it says otherwise beside them.{shares}"
    )
