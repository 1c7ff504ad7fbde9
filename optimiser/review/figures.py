"""All figures of a study, by short name."""

from typing import TYPE_CHECKING

from optimiser.review.drawing import View
from optimiser.review.landscape import knob_plane, landscape, mic_plane
from optimiser.review.orders import orders
from optimiser.review.outlook_figure import outlook_figure
from optimiser.review.parts import parts_figure
from optimiser.review.progress import progress
from optimiser.review.slices import slices
from optimiser.review.spots import spots
from optimiser.review.standing import Standing, standing_of
from optimiser.review.what_mattered import what_mattered
from optimiser.space import Choice, Knob, MicPlace, MicSpot, RiffOrder, Setting, Stage
from optimiser.study import StudyState

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def figures_of(state: StudyState) -> dict[str, "Figure"]:
    """Every figure that the study has something for, by short name: see `views_of`."""
    return {name: view.figure for name, view in views_of(standing_of(state)).items()}


def views_of(standing: Standing) -> dict[str, View]:
    """Every figure that the study has something for with the table behind it, by short name.

    `progress` always; `explored` (predicted score over the settings that mattered most), `mic`, `riffs`, `mattered` and
    `outlook` once something is believed; `parts` once two trials have them.
    """
    views: dict[str, View | None] = {"progress": progress(standing)}
    if standing.belief is not None:
        views["explored"] = explored(standing)
        views |= _by_kind(standing)
        views["mattered"] = what_mattered(standing.shares)
        views["outlook"] = outlook_figure(standing)
    views["parts"] = parts_figure(standing)
    return {name: view for name, view in views.items() if view is not None}


def explored(standing: Standing) -> View | None:
    """Predicted score over the knob that mattered most and the other setting that mattered most.

    Mic spots and riff orders have figures of their own; a spot takes part here when there is nothing else. None when no
    setting is left.
    """
    by_weight = [standing.space.by_name[share.setting] for share in standing.shares]
    knob = next((setting for setting in by_weight if isinstance(setting, Knob)), None)
    others = [s for s in by_weight if isinstance(s, Knob | Stage | Choice) and s is not knob]
    if knob is None:
        return spots(standing, others[0], "explored") if others else None
    spot: Setting | None = next((setting for setting in by_weight if isinstance(setting, MicSpot)), None)
    other = others[0] if others else spot
    if isinstance(other, Knob):
        return landscape(standing, knob_plane(standing, knob, other))
    return slices(standing, knob, other)


def _by_kind(standing: Standing) -> dict[str, View]:
    """Figures of microphones and riff orders; a second one of a kind is named after its setting."""
    views: dict[str, View] = {}
    for setting in standing.space.settings:
        match setting:
            case MicSpot():
                name, view = "mic", spots(standing, setting, "mic")
            case MicPlace():
                name, view = "mic", landscape(standing, mic_plane(standing, setting))
            case RiffOrder():
                name, view = "riffs", orders(standing, setting)
            case _:
                continue
        if name in views:
            name = f"{name}-{setting.name}"
            view.figure.set_label(name)
        views[name] = view
    return views
