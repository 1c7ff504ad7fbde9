"""studies, review, recall, export, import-study: what there is and what it shows."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final

import typer

from optimiser.cli.commands.advising import say_weights
from optimiser.cli.commands.proposals import say_basis, say_outlook
from optimiser.cli.commands.words import StudyName, stamp
from optimiser.cli.outcome import AsJson, Outcome, StoreUrl, View, tell
from optimiser.cli.printing import bar, columns, count, near, number, paragraph, plus_minus, whole
from optimiser.errors import NoStore


def studies(store: StoreUrl = None, as_json: AsJson = False) -> Outcome:
    """What studies there are and where each stands."""
    from optimiser.storage import open_store
    from optimiser.workflow import all_studies

    try:
        with open_store(store, create=False) as opened:
            return Outcome(all_studies(opened), _say_studies, as_json)
    except NoStore as none:
        tell(none.message)
        return Outcome({"studies": []}, _say_studies, as_json)


def _say_studies(view: View) -> Iterator[str]:
    from optimiser.study import trials_in_words

    if not view["studies"]:
        yield "There is no study yet. Next: optimiser start SHEET.toml"
        return
    for study in view["studies"]:
        best = "nothing scored yet"
        if study["best"] is not None:
            kind = "by its reading alone" if study["by_reading"] else "measured"
            trials = trials_in_words([study["best_trial"], *study["best_alike"]])
            best = f"highest {kind} {number(study['best'])} ({trials})"
        waiting = f", {trials_in_words(study['waiting'])} waiting" if study["waiting"] else ""
        yield from paragraph(f"{study['name']}: {count(study['measured'], 'trial')} measured, {best}{waiting}", 0)


def review(
    study: StudyName,
    out: Annotated[Path | None, typer.Option(help="Folder for report.html, figures and table.")] = None,
    until: Annotated[int | None, typer.Option(help="As it stood after this event of the history.")] = None,
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Progress, explored space, what mattered and outlook; with --out also the report."""
    from optimiser.storage import open_store
    from optimiser.workflow import reviewed

    with open_store(store, create=False) as opened:
        return Outcome(reviewed(opened, study, out, stamp(), tell, until=until), _say_review, as_json)


def _say_review(view: View) -> Iterator[str]:
    yield from say_standing(view)
    yield from whole("Next:", f"optimiser next {view['study']}")


def say_standing(view: View) -> Iterator[str]:
    """Where a study stands."""
    from optimiser.study import trials_in_words

    yield from paragraph(f"Study {view['study']}: {count(view['measured'], 'trial')} measured.")
    if view["best"] is not None:
        yield from paragraph(_highest(view["best"]))
    yield from say_basis(view)
    if view["recommended"] is not None:
        kept = view["recommended"]
        expected = plus_minus(kept["expected"], kept["expected_se"])
        yield from paragraph(f"Keep for now, expected {expected}, {kept['made_shown']}:")
        yield from columns(kept["shown"].items())
    if view["mattered"]:
        yield from _say_mattered(view["mattered"])
    if view["reading_relation"]:
        yield from _say_relation(view["reading_relation"])
    yield from say_outlook(view["outlook"])
    yield from say_weights(view)
    old = view["of_other_versions"]
    if old:
        told = f"{trials_in_words(old)}, by another version of the measure; scores of two are not to be compared"
        yield from paragraph(told, 10, "Scored:")
        yield from whole("To score again:", f"optimiser remeasure {view['study']}")
    for file in view["files"][:1]:
        yield from whole("Written: ", file)
        yield from paragraph(f"and {len(view['files']) - 1} more files beside it", 10)


def _highest(best: View) -> str:
    """The highest score once days are taken off, and as it was measured where that is another figure."""
    said = f"Highest so far: trial {best['trial']}, {plus_minus(best['levelled'], best['overall_se'])}"
    if number(best["levelled"]) != number(best["overall"]):
        side = "high" if best["overall"] > best["levelled"] else "low"
        said += f" (measured {number(best['overall'])}, on a day that reads {side})"
    return said + str(best["alike_shown"])


def _say_mattered(shares: list[View]) -> Iterator[str]:
    """Each setting's share and what is known of it; a bar is hatched while that is nothing."""
    from optimiser.review import NOT_KNOWN

    yield "What mattered (share of the score's variation, with its 90 % interval):"
    yield from columns(
        (
            share["setting"],
            bar(share["share"], "/" if share["verdict"] == NOT_KNOWN else "#"),
            f"{_interval(share)}, {share['verdict']}",
        )
        for share in shares
    )


def _say_relation(relations: list[View]) -> Iterator[str]:
    """How the device's reading goes with what was measured."""
    from optimiser.review import RELATION_NOTE

    yield "The reading against the scores (rank correlation with its 95 % interval):"
    yield from columns(
        (relation["figure"], relation["shown"], relation["verdict"] if relation["correlation"] is not None else "")
        for relation in relations
    )
    yield from paragraph(RELATION_NOTE)


def _interval(share: View) -> str:
    return f"{100 * share['share']:.0f} % ({100 * share['low']:.0f} to {100 * share['high']:.0f})"


def recall(
    study: StudyName,
    trial: Annotated[int, typer.Argument(metavar="TRIAL", help="The trial's number.")],
    out: Annotated[Path, typer.Option(metavar="FILE.html|pdf", help="Where to write; HTML or PDF by its ending.")],
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Write the recall sheet of a trial: one page from which the chain is set up again."""
    from optimiser.storage import open_store
    from optimiser.workflow import write_recall

    with open_store(store, create=False) as opened:
        return Outcome(write_recall(opened, study, trial, out, stamp()), _say_recall, as_json)


def _say_recall(view: View) -> Iterator[str]:
    yield from whole(f"Recall sheet of trial {view['trial']} of {view['study']} written:", near(view["file"]))


def export(
    study: StudyName,
    file: Annotated[Path, typer.Argument(metavar="FILE.json", help="Where to write.")],
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Write sheet, trials and events of a study as JSON."""
    from optimiser.storage import open_store
    from optimiser.workflow import exported

    with open_store(store, create=False) as opened:
        return Outcome(exported(opened, study, file), _say_export, as_json)


def _say_export(view: View) -> Iterator[str]:
    yield from whole(f"Study {view['study']} written, {_held(view)}:", near(view["file"]))


def import_study(
    file: Annotated[Path, typer.Argument(metavar="FILE.json", help="What optimiser export wrote.")],
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> Outcome:
    """Take in an exported study with everything that happened in it."""
    from optimiser.storage import open_store
    from optimiser.workflow import imported

    with open_store(store) as opened:
        return Outcome(imported(opened, file), _say_import, as_json)


def _say_import(view: View) -> Iterator[str]:
    from optimiser.study import trials_in_words

    yield from paragraph(f"Study {view['study']} taken in, {_held(view)}.")
    if view["without_recordings"]:
        told = trials_in_words(view["without_recordings"])
        yield from paragraph(
            f"A file holds no recordings: those of {told} are not in this store, so their scores stay as they are. "
            "Hand the goal reference over again, if there is one (optimiser goal). A whole store goes along with "
            "optimiser move."
        )
    yield from whole("Next:", f"optimiser review {view['study']}")


def _held(view: View) -> str:
    """What a study as a file holds."""
    return f"{count(view['trials'], 'trial')} and {count(view['events'], 'event')}"


COMMANDS: Final = (studies, review, recall, export, import_study)
