"""The opponents: general-purpose optimisers, each reached through one file that is imported when it is asked."""

from typing import Final

from optimiser.study import Study
from tests.benchmarks.methods import Arrangement, Method, best_seen


def _ask_sobol(study: Study, seed: int) -> Arrangement:
    from tests.benchmarks.opponents import sobol

    return sobol.ask(study, seed)


def _ask_tpe(study: Study, seed: int) -> Arrangement:
    from tests.benchmarks.opponents import optuna_samplers

    return optuna_samplers.ask_tpe(study, seed)


def _ask_optuna_gp(study: Study, seed: int) -> Arrangement:
    from tests.benchmarks.opponents import optuna_samplers

    return optuna_samplers.ask_gp(study, seed)


def _ask_ax(study: Study, seed: int) -> Arrangement:
    from tests.benchmarks.opponents import ax_client

    return ax_client.ask(study, seed)


def _ask_baybe(study: Study, seed: int) -> Arrangement:
    from tests.benchmarks.opponents import baybe_campaign

    return baybe_campaign.ask(study, seed)


def _keep_baybe(study: Study) -> Arrangement:
    from tests.benchmarks.opponents import baybe_campaign

    return baybe_campaign.keep(study)


OPPONENTS: Final = (
    Method("sobol", _ask_sobol, best_seen),
    Method("optuna tpe", _ask_tpe, best_seen, ("optuna",)),
    Method("optuna gp", _ask_optuna_gp, best_seen, ("optuna", "torch"), slow=True),
    Method("baybe", _ask_baybe, _keep_baybe, ("baybe", "botorch"), slow=True),
    Method("ax", _ask_ax, best_seen, ("ax", "botorch"), slow=True),
)
