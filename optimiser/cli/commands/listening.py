"""ears: what the practitioner's own ratings say of the match score."""

from collections.abc import Iterator
from typing import Annotated, Final

import typer

from optimiser.cli.commands.words import StudyName, answers
from optimiser.cli.outcome import AsJson, Outcome, StoreUrl, View
from optimiser.cli.printing import columns, count, number, paragraph, percent

BlindTests = Annotated[
    list[str] | None,
    typer.Option(
        "--blind",
        metavar="TRIAL=RIGHT/TRIES",
        help="A blind test of a trial's reference and capture, as in 7=12/16; once for each.",
    ),
]


def ears(study: StudyName, blind: BlindTests = None, store: StoreUrl = None, as_json: AsJson = False) -> Outcome:
    """Fit the weights of the match score to your ear ratings, and see whether they predict them better."""
    from optimiser.storage import open_store
    from optimiser.workflow import weights_by_ear

    tests = answers(blind)
    with open_store(store, create=False) as opened:
        return Outcome(weights_by_ear(opened, study, tests), _say_ears, as_json)


def _by_chance(test: View) -> str:
    share = f"{percent(test['chance_of_guessing'])} of"
    return f"trial {test['trial']}, {test['correct']} right of {test['tries']}; guessing does as well in {share} tests."


def _say_ears(view: View) -> Iterator[str]:
    yield from paragraph(f"Ears of {view['study']}: {count(view['pairs'], 'rating')} of measured takes.")
    heads = ("part", "shipped", "in use", "fitted") if view["own_weights"] else ("part", "shipped", "fitted")
    names = tuple(head.replace(" ", "_") for head in heads[1:])
    rows = ((part["part"], *(number(part[name], 2) for name in names)) for part in view["parts"])
    yield from columns((heads, *rows))
    for test in view["blind_tests"]:
        yield from paragraph(_by_chance(test), 10, "Blind:")
    yield "Error in points when predicting ratings that were left out of the fit:"
    yield from columns((name, _quality(view[entry])) for name, entry in _PREDICTORS)
    yield from paragraph(view["verdict"], 10, "Verdict:")
    for remark in view["remarks"]:
        yield from paragraph(remark, 10, "Remark:")
    for line in view["how_to_rate"]:
        yield from paragraph(line, 10, "Rating:")
    wish = "To use the fitted weights" if view["better"] else "To use the fitted weights all the same"
    yield f"{wish}, put this into the study's sheet:"
    yield ""
    yield from (f"    {line}" for line in view["toml"].splitlines())
    yield ""
    yield "Then: optimiser start SHEET.toml"


_PREDICTORS: Final = (("fitted", "fitted"), ("shipped", "shipped"), ("your mean rating", "mean_rating"))


def _quality(told: View) -> str:
    correlation = told.get("rank_correlation")
    ranked = "" if correlation is None else f", rank correlation {number(correlation, 2)}"
    return f"{number(told['rms'])}{ranked}"


COMMANDS: Final = (ears,)
