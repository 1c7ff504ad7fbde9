"""Everything that happened in a study, in order, and the present state that follows from it.

Events are only ever added. Amending a trial adds an event that carries the entries changed; striking it out adds one
more; nothing is overwritten.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Final

from optimiser.errors import NotFound
from optimiser.study.codec import study_from_json, trial_from_json
from optimiser.study.history import Study
from optimiser.study.proof_reels import Reel, with_reel
from optimiser.study.rescoring import rescored
from optimiser.study.sheet import StudySheet
from optimiser.study.sheet_text import sheet_from_tables
from optimiser.study.trial import Trial
from optimiser.study.versions import Carried, carried

KINDS: Final = (
    "started",
    "sheet changed",
    "reel made",
    "goal recorded",
    "proposed",
    "declined",
    "withdrawn",
    "measured",
    "failed",
    "amended",
    "remeasured",
    "voided",
    "restored",
    "unmade",
    "advisers chosen",
    "lost",
    "heard",
)
"""What can happen. Bodies: `sheet`; `reel`; `goal`, None where the first one is taken back; `advisers`, each a whole
study as JSON, so that a replay needs nothing else; `proposal` with `trial` and `settings`; `trial`, which is a number,
or a trial's entries for measured and failed, there with `asked` and `details`; `changes`, for amended perhaps with
`details` that change too, for remeasured with all `details` as they are then; nothing for lost, which holds the place
of an event that could not be read in a damaged store, or `was`, one that fits nothing any more; for heard `trial`,
`correct`, `tries`, and whether the blind test was `finished`. Any may have `undoes`, the number of an event that it
takes back, `with`, those of all that were taken back at once, and `part_of`, that of the first event of its step.
Unmade is a trial of which the newest take or failed run was taken back: it is what it was before."""


@dataclass(frozen=True)
class Event:
    """One thing that happened.

    Attributes:
        kind: one of KINDS.
        body: what it carries, as JSON values.
        at: when, ISO 8601 with offset.
        actor: who or which program.
        reason: why, in the practitioner's words; may be empty.
        key: idempotency key; a store takes an event with a known key only once.
        number: place in the study's order of events, counted from 1; 0 until a store has taken it.
    """

    kind: str
    body: Mapping[str, Any]
    at: str
    actor: str = ""
    reason: str = ""
    key: str = ""
    number: int = 0

    @property
    def trial(self) -> int | None:
        """Number of the trial that it is about, None where it is about none."""
        told = self.body.get("trial", self.body.get("proposal", {}))
        return told.get("trial") if isinstance(told, Mapping) else told


_OF_TRIAL: Final = ("trials", "asked", "details", "before_void", "fixed_then", "heard", "before_made")
"""What a state holds of each trial that a take or a failed run changes."""


@dataclass(frozen=True)
class _Before:
    """What a state held of a trial before it was made, by the names above, and which one was made last then."""

    entries: Mapping[str, Any]
    last_made: int | None


@dataclass(frozen=True)
class StudyState:
    """Where a study stands after some events.

    Attributes:
        sheet: the newest version of the sheet.
        trials: the trials as they stand, by number; read against the sheet by `study`.
        goals: what was kept of every goal reference, in the order in which they were recorded.
        reels: what was kept of the newest reel of each kind that was made for the study.
        proof_reels: every proof reel that was made, by what it is known by, the newest last.
        proposals: the proposal behind each trial that was asked for, by trial number.
        asked: the settings that were proposed where others were really set, by trial number.
        details: what else was kept of a trial (parts, advice, warnings, files), by trial number.
        before_void: the state that a struck-out trial had before, by trial number.
        last_made: number of the trial that was made last, at whose settings the chain still stands.
        fixed_then: the sheet's `[fixed]` table when each trial was asked for or made, by trial number.
        advisers: earlier studies as they stood when they were chosen.
        heard: right answers and all answers of the finished blind tests of a trial, by trial number.
        before_made: what a trial was before it was made, by trial number; nothing of one that was not asked for.
    """

    sheet: StudySheet
    trials: Mapping[int, Trial] = field(default_factory=dict)
    goals: tuple[Mapping[str, Any], ...] = ()
    reels: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    proof_reels: Mapping[str, Reel] = field(default_factory=dict)
    proposals: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)
    asked: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)
    details: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)
    before_void: Mapping[int, str] = field(default_factory=dict)
    last_made: int | None = None
    fixed_then: Mapping[int, Mapping[str, str]] = field(default_factory=dict)
    advisers: tuple[Study, ...] = ()
    heard: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    before_made: Mapping[int, _Before] = field(default_factory=dict)

    @property
    def goal(self) -> Mapping[str, Any] | None:
        """What was kept of the newest goal reference, None before one is recorded."""
        return self.goals[-1] if self.goals else None

    @cached_property
    def study(self) -> Study:
        """Sheet and trials, read against each other; scores follow the weights that the sheet brings.

        Raises:
            InvalidTrial, InvalidSettings: a trial that does not fit the sheet.
        """
        weights = self.sheet.match_weights
        trials = tuple(rescored(trial, self.details.get(n, {}), weights) for n, trial in self.trials.items())
        return Study(self.sheet, trials, goal_known=self.goal is not None, advisers=self.advisers)

    def after(self, event: Event) -> "StudyState":
        """The state that follows when `event` has happened; whether it fits the sheet is seen in `study`.

        Raises:
            NotFound: a trial that the study does not have.
            InvalidTrial, SheetError: a body that cannot be.
        """
        body = event.body
        match event.kind:
            case "sheet changed" | "reel made" | "goal recorded" | "advisers chosen":
                return self._of_study(event.kind, body)
            case "proposed":
                return self._proposed(body["proposal"])
            case "measured" | "failed":
                return self._made(body)
            case "amended" | "remeasured":
                return self._amended(body, whole=event.kind == "remeasured")
            case "declined" | "voided" | "restored":
                return self._restated(event.kind, body["trial"])
            case "withdrawn":
                number = self._trial(body["trial"]).number
                return replace(self, trials={n: trial for n, trial in self.trials.items() if n != number})
            case "unmade":
                return self._unmade(body["trial"])
            case "lost":
                return self
            case "heard":
                return self._heard(body)
        raise NotFound(f"There is no event of the kind {event.kind!r}.", f"Kinds are {', '.join(KINDS)}.")

    def carried_to(self, sheet: StudySheet) -> Carried:
        """The trials under another version of the sheet, and what stands in its way."""
        return carried(self.trials, self.fixed_then, self.sheet, sheet)

    @property
    def next_number(self) -> int:
        """The number that the next trial gets; that of a proposal that was withdrawn is not given again."""
        return max((*self.trials, *self.proposals), default=0) + 1

    def present(self) -> Trial | None:
        """The trial that was made last, at whose settings the chain still stands; None where the sheet cannot tell."""
        last = self.study.trial(self.last_made) if self.last_made is not None else None
        return last if last is not None and self.sheet.space.is_whole(last.settings) else None

    def _of_study(self, kind: str, body: Mapping[str, Any]) -> "StudyState":
        """What concerns the whole study and no trial."""
        match kind:
            case "sheet changed":
                sheet = sheet_from_tables(body["sheet"])
                return replace(self, sheet=sheet, trials=self.carried_to(sheet).trials)
            case "reel made":
                reel = body["reel"]
                proof = with_reel(self.proof_reels, reel) if reel["kind"] == "proof" else self.proof_reels
                return replace(self, reels={**self.reels, reel["kind"]: reel}, proof_reels=proof)
            case "goal recorded":
                return replace(self, goals=self.goals[:-1] if "undoes" in body else (*self.goals, body["goal"]))
        return replace(self, advisers=tuple(study_from_json(adviser) for adviser in body["advisers"]))

    def _proposed(self, proposal: Mapping[str, Any]) -> "StudyState":
        number = proposal["trial"]
        waiting = Trial(proposal["settings"], number=number, state="waiting")
        return replace(
            self,
            trials={**self.trials, number: waiting},
            proposals={**self.proposals, number: proposal},
            fixed_then={**self.fixed_then, number: self.sheet.fixed},
        )

    def _made(self, body: Mapping[str, Any]) -> "StudyState":
        trial = trial_from_json(body["trial"])
        number = trial.number or 0
        asked = {**self.asked, number: body["asked"]} if body.get("asked") else self.asked
        details = {**self.details, number: body.get("details", {})}
        known = {name: getattr(self, name) for name in _OF_TRIAL}
        before = _Before({name: told[number] for name, told in known.items() if number in told}, self.last_made)
        return replace(
            self,
            before_made={**self.before_made, number: before} if number in self.trials else self.before_made,
            trials={**self.trials, number: trial},
            asked=asked,
            details=details,
            last_made=self.last_made if "notes" in details[number] else number,
            fixed_then={**self.fixed_then, number: self.sheet.fixed},
        )

    def _unmade(self, number: int) -> "StudyState":
        """Everything of a trial as it was before it was made."""
        if number not in self.before_made:
            raise NotFound(f"Trial {number} was nothing before it was made.", "It can be struck out.")
        before = self.before_made[number]
        entries: dict[str, Any] = {"last_made": before.last_made}
        for name in _OF_TRIAL:
            others = {n: entry for n, entry in getattr(self, name).items() if n != number}
            entries[name] = {**others, number: before.entries[name]} if name in before.entries else others
        return replace(self, **entries)

    def _amended(self, body: Mapping[str, Any], *, whole: bool) -> "StudyState":
        number = body["trial"]
        changed = self._changed(number, **body["changes"])
        if not body.get("details"):
            return changed
        details = {**({} if whole else self.details.get(number, {})), **body["details"]}
        return replace(changed, details={**self.details, number: details})

    def _restated(self, kind: str, number: int) -> "StudyState":
        before = self._trial(number).state
        told = {"declined": "declined", "voided": "void", "restored": self.before_void.get(number, "measured")}
        kept = {**self.before_void, number: before} if kind == "voided" else self.before_void
        return replace(self._changed(number, state=told[kind]), before_void=kept)

    def _heard(self, body: Mapping[str, Any]) -> "StudyState":
        number = self._trial(body["trial"]).number or 0
        if not body["finished"]:
            return self
        before = self.heard.get(number, (0, 0))
        return replace(self, heard={**self.heard, number: (before[0] + body["correct"], before[1] + body["tries"])})

    def _changed(self, number: int, **changes: Any) -> "StudyState":
        return replace(self, trials={**self.trials, number: replace(self._trial(number), **changes)})

    def _trial(self, number: int) -> Trial:
        if number not in self.trials:
            raise NotFound(f"The study has no trial {number}.", f"It has {len(self.trials)} trials.")
        return self.trials[number]


def started(sheet: StudySheet) -> StudyState:
    """The state of a study that was just started."""
    return StudyState(sheet)


def fold(events: Iterable[Event]) -> StudyState:
    """The present state after all events, of which the first is `started`.

    Raises:
        NotFound: there are no events.
        InvalidTrial, SheetError: an event that cannot be.
    """
    state: StudyState | None = None
    for event in events:
        state = started(sheet_from_tables(event.body["sheet"])) if state is None else state.after(event)
    if state is None:
        raise NotFound("The study has no events.", "Start it with optimiser start SHEET.toml.")
    return state
