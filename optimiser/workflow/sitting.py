"""Which day a step belongs to: one sitting, named by the date on which it began in the study's own time zone."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from optimiser.study import Event, StudyState
from optimiser.workflow.stamp import Stamp

BREAK: Final = timedelta(hours=3)
"""Nobody starts a new day without a break of so long: work past midnight is the same sitting (no source)."""


def day_of(events: Sequence[Event], state: StudyState, stamp: Stamp) -> str:
    """The ISO date of the sitting; a clock that was set back never takes it to an earlier one.

    Args:
        events: of the study.
        state: what they make of it.
        stamp: when the step is taken.
    """
    today = stamp.day(state.sheet)
    if state.last_made is None:
        return today
    last = state.trials[state.last_made].day or today
    made = [event.at for event in events if event.kind in ("measured", "failed") and event.trial == state.last_made]
    at = datetime.fromisoformat(made[-1])
    return last if stamp.at - at < BREAK else max(today, last)
