"""What to try next.

Enters: a study. Leaves: proposals, predictions, what to keep, and what further trials could still gain. Knows nothing
of recordings, of the store, or of how the answers are shown.
"""

from optimiser.proposals.asking import outlook, predict, propose, recommend
from optimiser.proposals.proposal import Outlook, Prediction, Proposal, Recommendation, RunnerUp

__all__ = ["Outlook", "Prediction", "Proposal", "Recommendation", "RunnerUp", "outlook", "predict", "propose", "recommend"]
