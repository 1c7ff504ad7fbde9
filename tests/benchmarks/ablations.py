"""Ours with one part switched off or replaced, to see what each part brings.

A part is switched off by replacing it inside the running program for the length of a hunt, so that nothing in the
product exists only for the benchmark.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from functools import partial
from typing import Any, Final
from unittest.mock import patch

import numpy as np

from optimiser.proposals import belief, recommend
from optimiser.proposals.engines import own
from optimiser.space import Block, Settings
from optimiser.study import SearchPolicy, Study, StudySheet
from optimiser.surrogate import KernelChoices, MixedKernel, kernel_of, outliers
from tests.benchmarks.methods import Method, ask_ours

Change = tuple[Any, str, Any]
"""Object, attribute, what stands there during the hunt."""


def _with_kernel(choices: KernelChoices, kinds: dict[str, str] | None = None) -> list[Change]:
    """Another kernel; `kinds` makes blocks of one kind count as another."""

    def kernel(blocks: Sequence[Block]) -> MixedKernel:
        return kernel_of([_as(block, (kinds or {}).get(block.kind, block.kind)) for block in blocks], choices)

    return [(belief, "kernel_of", kernel)]


def _as(block: Block, kind: str) -> Block:
    if kind == block.kind:
        return block
    columns = block.columns[:1] if block.kind == "spot" else block.columns
    return replace(block, kind=kind, columns=columns)


def _by_improvement(promise: Any, choices: Sequence[Settings], others: Sequence[Settings]) -> Any:  # noqa: ARG001
    """Expected improvement in place of the knowledge gradient; a repeat promises none of its own."""
    return np.asarray(promise.gain(choices))


def _as_one(study: Study) -> tuple[float, tuple[()]]:  # noqa: ARG001
    return 100.0, ()


USUAL: Final = KernelChoices()
WIDE: Final = KernelChoices(scale_sd=2.0, pair_sd=2.0, weight_sd=2.0, move_sd=0.4)

PARTS: Final[dict[str, list[Change]]] = {
    "product part only": _with_kernel(replace(USUAL, additive=0.01, pairwise=0.0)),
    "additive part only": _with_kernel(replace(USUAL, additive=0.98, pairwise=0.0)),
    "no parts of two settings": _with_kernel(replace(USUAL, pairwise=0.0)),
    "cliff stays where it is": _with_kernel(replace(USUAL, move_sd=0.0)),
    "wide priors": _with_kernel(WIDE),
    "orders equal or not": _with_kernel(USUAL, {"order": "choice"}),
    "spots without coordinates": _with_kernel(USUAL, {"spot": "choice"}),
    "expected improvement": [(own, "_lessons", _by_improvement)],
    "no value doubted": [(outliers, "BOTCHED_SHARE", 1e-12)],
}
"""What is replaced, by the name of what remains."""

POLICIES: Final[dict[str, dict[str, Any]]] = {
    "one set of scales": {"belief_draws": 1},
    "effort left out": {"effort_weight": 0.0},
    "four first trials": {"first_trials": 4},
    "eight first trials": {"first_trials": 8},
}
"""The same by choices that a sheet may make."""

OF_PARTS: Final = {"parts believed as one": [(belief, "factors_of", _as_one)]}
POLICIES_OF_PARTS: Final[dict[str, dict[str, Any]]] = {"without trade rules": {"trade_rules": False}}
"""What only counts where trials carry parts."""


@contextmanager
def replaced(changes: Sequence[Change]) -> Iterator[None]:
    """Replace, and forget beliefs that were formed otherwise."""
    belief._believe.cache_clear()
    with ExitStack() as stack:
        for owner, name, stand_in in changes:
            stack.enter_context(patch.object(owner, name, stand_in))
        yield
    belief._believe.cache_clear()


def _with_policy(policy: dict[str, Any]) -> Callable[[StudySheet], StudySheet]:
    def changed(sheet: StudySheet) -> StudySheet:
        known: SearchPolicy = sheet.policy
        return replace(sheet, policy=replace(known, **policy))

    return changed


def _keep(study: Study) -> Settings:
    return recommend(study).settings


def _variant(name: str, changes: Sequence[Change] = (), policy: dict[str, Any] | None = None) -> Method:
    return Method(name, ask_ours, _keep, prepare=_with_policy(policy or {}), around=partial(replaced, changes))


ABLATIONS: Final = (
    *(_variant(name, changes) for name, changes in PARTS.items()),
    *(_variant(name, policy=policy) for name, policy in POLICIES.items()),
)
"""On any space."""

ABLATIONS_OF_PARTS: Final = (
    *(_variant(name, changes) for name, changes in OF_PARTS.items()),
    *(_variant(name, policy=policy) for name, policy in POLICIES_OF_PARTS.items()),
)
"""Where trials carry parts."""

PLAIN: Final = _variant("expected improvement, effort left out", PARTS["expected improvement"], {"effort_weight": 0.0})
"""What a search is that knows of no minutes and weighs no more than the next trial's own gain."""

FOUR_AT_ONCE: Final = Method("four at once", ask_ours, _keep, at_once=4)
"""Ours, each four trials chosen before any of them is measured."""
