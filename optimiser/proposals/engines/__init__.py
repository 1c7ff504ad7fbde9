"""The ways to choose the next trial: `own` is this package's, `plain` is scikit-optimize's.

Enters: a study, the arrangements that may be proposed, how many are wanted, a seed. Leaves: arrangements, each with
the kind of trial it is. May not know how they are shown or explained.
"""

from optimiser.proposals.engines.choice import Choice, Wish
from optimiser.proposals.engines.own import choose_own

__all__ = ["Choice", "Wish", "choose_own", "choose_plain"]


def choose_plain(wish: Wish) -> list[Choice]:
    """Arrangements chosen by scikit-optimize's own optimiser, which is imported only now."""
    from optimiser.proposals.engines.plain import choose

    return choose(wish)
