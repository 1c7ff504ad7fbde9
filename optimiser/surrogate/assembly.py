"""The kernel for a settings space, put together from what its columns mean."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from optimiser.space import Block
from optimiser.surrogate.kernels import Alike, Correlation, Described, Existing, Mallows, Matern, Steps
from optimiser.surrogate.mixed_kernel import MixedKernel, Term
from optimiser.surrogate.priors import Prior


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
        weight_sd: standard deviation of a log weight.
        common: correlation between arrangements with and without a conditional setting.
    """

    knob_scale: float = 0.4
    scale_sd: float = 0.7
    step_scale: float = 1.5
    alike: float = 0.5
    own: float = 0.3
    order_rate: float = 1.5
    pair_sd: float = 0.7
    additive: float = 0.5
    pairwise: float = 0.0
    weight_sd: float = 1.0
    common: float = 0.5


def kernel_of(blocks: Sequence[Block], choices: KernelChoices | None = None) -> MixedKernel:
    """Covariance over the rows that `blocks` describe."""
    choices = choices or KernelChoices()
    correlations = tuple(_correlation(block, choices) for block in blocks)
    return MixedKernel(correlations, _terms(len(blocks), choices))


def _terms(count: int, choices: KernelChoices) -> tuple[Term, ...]:
    if count == 1:
        return (Term((0,), Prior.of_scale(1.0, choices.weight_sd)),)
    together = 1.0 - choices.additive - choices.pairwise
    terms = [Term((b,), Prior.of_scale(choices.additive / count, choices.weight_sd)) for b in range(count)]
    pairs = list(combinations(range(count), 2)) if choices.pairwise > 0 else []
    terms += [Term(pair, Prior.of_scale(choices.pairwise / len(pairs), choices.weight_sd)) for pair in pairs]
    return (*terms, Term(tuple(range(count)), Prior.of_scale(together, choices.weight_sd)))


def _correlation(block: Block, choices: KernelChoices) -> Correlation:
    inner = _always(block, choices)
    return inner if block.active is None else Existing(inner, block.active, choices.common)


def _always(block: Block, choices: KernelChoices) -> Correlation:
    scale = Prior.of_scale(choices.knob_scale, choices.scale_sd)
    columns = block.columns
    if block.kind in ("knob", "place"):
        return Matern(columns, scale)
    if block.kind == "stage":
        return Steps(columns[0], block.levels, Prior.of_scale(choices.step_scale, choices.scale_sd))
    if block.kind == "order":
        pairs = len(columns) * (len(columns) - 1) // 2
        shared = Prior.of_scale(choices.order_rate / pairs, choices.scale_sd)
        return Mallows(columns, shared, Prior.of_scale(1.0, choices.pair_sd))
    if len(columns) > 1:
        return Described(columns[0], Matern(columns[1:], scale), Prior.of_share(choices.own, 1.0))
    return Alike(columns, Prior.of_share(choices.alike, 1.0))
