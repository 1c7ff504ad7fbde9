"""The kernel for a settings space, put together from what its columns mean."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from optimiser.space import Block
from optimiser.surrogate.alternatives import Alike, Described, Existing
from optimiser.surrogate.kernels import Correlation, Matern, Shifted, Steps
from optimiser.surrogate.mixed_kernel import MixedKernel, Term
from optimiser.surrogate.orders import Mallows
from optimiser.surrogate.priors import Prior

MOST_MOVES: Final = 5
"""Steps of a stage beyond which knobs keep their curves: their moves could not be learnt (a choice, no source)."""


@dataclass(frozen=True)
class KernelChoices:
    """What the kernel is made of, and what is believed of it beforehand.

    The figures were chosen on synthetic spaces of the tuning draw (studies/proposals-benchmark), with no other source.

    Attributes:
        knob_scale: median scale of a knob, in shares of its range.
        scale_sd: standard deviation of a log scale.
        step_scale: median scale of a stage, in steps.
        alike: median correlation between two unordered alternatives.
        own: median share of a spot's own effect.
        order_rate: median of the shared rate times the number of pairs.
        pair_sd: standard deviation of the log factor of one pair.
        additive: median share of variance of the additive parts together; the product part gets the rest.
        pairwise: median share of variance of all parts of two settings together, 0 for none.
        order_part: an order's median share of those variances for each pair of its riffs, against 1 of any other
            setting's: the trade suspects it last.
        weight_sd: standard deviation of a log weight.
        common: correlation between arrangements with and without a conditional setting.
        move: mean of what a stage's step adds to a knob's curve, in shares of its range.
        move_sd: standard deviation of that; 0 keeps every knob's curve where it is.
    """

    knob_scale: float = 0.3
    scale_sd: float = 0.7
    step_scale: float = 0.8
    alike: float = 0.5
    own: float = 0.3
    order_rate: float = 1.0
    pair_sd: float = 0.7
    additive: float = 0.6
    pairwise: float = 0.2
    order_part: float = 1.0 / 12.0
    weight_sd: float = 1.0
    common: float = 0.5
    move: float = 0.1
    move_sd: float = 0.12


def kernel_of(blocks: Sequence[Block], choices: KernelChoices | None = None) -> MixedKernel:
    """Covariance over the rows that `blocks` describe."""
    choices = choices or KernelChoices()
    stage = _stage_of(blocks) if choices.move_sd > 0 else None
    correlations = tuple(_correlation(block, choices, stage) for block in blocks)
    parts = [choices.order_part * _pairs(block) if block.kind == "order" else 1.0 for block in blocks]
    return MixedKernel(correlations, _terms(parts, choices))


def _terms(parts: Sequence[float], choices: KernelChoices) -> tuple[Term, ...]:
    count = len(parts)
    if count == 1:
        return (Term((0,), Prior.of_scale(1.0, choices.weight_sd)),)
    together = 1.0 - choices.additive - choices.pairwise
    terms = [
        Term((b,), Prior.of_scale(choices.additive * part / sum(parts), choices.weight_sd))
        for b, part in enumerate(parts)
    ]
    if choices.pairwise > 0:
        pairs = {(a, b): parts[a] * parts[b] for a, b in combinations(range(count), 2)}
        whole = sum(pairs.values())
        terms += [
            Term(pair, Prior.of_scale(choices.pairwise * part / whole, choices.weight_sd))
            for pair, part in pairs.items()
        ]
    return (*terms, Term(tuple(range(count)), Prior.of_scale(together, choices.weight_sd)))


def _pairs(order: Block) -> int:
    """Pairs of riffs in an order."""
    return len(order.columns) * (len(order.columns) - 1) // 2


def _stage_of(blocks: Sequence[Block]) -> Block | None:
    """The stage with which the knobs' curves may move: the only one that always exists."""
    stages = [block for block in blocks if block.kind == "stage" and block.active is None]
    return stages[0] if len(stages) == 1 and stages[0].levels <= MOST_MOVES + 1 else None


def _correlation(block: Block, choices: KernelChoices, stage: Block | None) -> Correlation:
    inner = _always(block, choices)
    if block.kind == "knob" and stage is not None:
        scale, move = Prior.of_scale(choices.knob_scale, choices.scale_sd), Prior(choices.move, choices.move_sd)
        inner = Shifted(block.columns[0], stage.columns[0], stage.levels, scale, move)
    return inner if block.active is None else Existing(inner, block.active, choices.common)


def _always(block: Block, choices: KernelChoices) -> Correlation:
    scale = Prior.of_scale(choices.knob_scale, choices.scale_sd)
    columns = block.columns
    if block.kind in ("knob", "place"):
        return Matern(columns, scale)
    if block.kind == "stage":
        return Steps(columns[0], block.levels, Prior.of_scale(choices.step_scale, choices.scale_sd))
    if block.kind == "order":
        shared = Prior.of_scale(choices.order_rate / _pairs(block), choices.scale_sd)
        return Mallows(columns, shared, Prior.of_scale(1.0, choices.pair_sd))
    if len(columns) > 1:
        return Described(columns[0], Matern(columns[1:], scale), Prior.of_share(choices.own, 1.0))
    return Alike(columns, Prior.of_share(choices.alike, 1.0))
