"""What events of an exported study must look like to be read later; entries that nobody reads may be anything."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Annotated, Any, Final, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, FiniteFloat, ValidationError, model_validator

from optimiser.errors import BadInput
from optimiser.study import Event

Number = Annotated[int, Field(ge=1, le=1_000_000)]
Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


def _zoned(text: str) -> str:
    if datetime.fromisoformat(text).tzinfo is None:
        raise ValueError("the time has no offset")
    return text


def _day(text: str) -> str:
    return date.fromisoformat(text).isoformat()


def _storable(text: str) -> str:
    text.encode()
    return text


Text = Annotated[str, AfterValidator(_storable)]
Values = dict[str, Any]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="allow", strict=True)


class _Head(_Shape):
    at: Annotated[str, AfterValidator(_zoned)]
    actor: Text
    reason: Text
    key: Text


class _Step(_Shape):
    undoes: Number | None = None
    taken_with: list[Number] = Field([], alias="with")
    part_of: Number | None = None


class _Sheet(_Shape):
    sheet: Values


class _Passage(_Shape):
    name: str
    kind: str
    start_s: FiniteFloat
    end_s: FiniteFloat


class _Layout(_Shape):
    passages: list[_Passage]


class _Reel(_Shape):
    kind: str
    riffs: list[str]
    rate_hz: FiniteFloat
    seconds: FiniteFloat
    layout: _Layout
    imprint: list[FiniteFloat] | None = None


class _ReelMade(_Shape):
    reel: _Reel


class _Recording(_Shape):
    sha256: Sha256
    name: str
    dry: str | None = None


class _Goal(_Recording):
    reel: str | None = None


class _GoalRecorded(_Shape):
    goal: _Goal | None
    undoes: Number | None = None

    @model_validator(mode="after")
    def _none_only_where_one_is_taken_back(self) -> Self:
        if self.goal is None and self.undoes is None:
            raise ValueError("a goal is a recording")
        return self


class _Day(_Shape):
    day: str
    shown: str
    linked: bool


class _Outlook(_Shape):
    gain_left: FiniteFloat | None
    chance_near_best: FiniteFloat | None
    eps: FiniteFloat | None
    advice: str
    minutes_left: FiniteFloat
    covered: int = 0
    checked: int = 0
    doubted: list[int] = []
    days: list[_Day] = []


class _Easier(_Shape):
    settings: Values
    expected: FiniteFloat
    expected_se: FiniteFloat
    effort_minutes: FiniteFloat


class _Inputs(_Shape):
    count: Number
    present: Values | None
    locked: Values
    day: str | None
    minutes: FiniteFloat | None = None
    of_minutes: FiniteFloat | None = None
    held_for_time: list[str] = []


class _Proposal(_Shape):
    trial: Number
    settings: Values
    expected: FiniteFloat | None = None
    expected_se: FiniteFloat | None = None
    chance_best: FiniteFloat | None = None
    chance_in_band: FiniteFloat | None = None
    effort_minutes: FiniteFloat
    reason: str
    lesson: FiniteFloat | None = None
    runner_up: _Easier | None = None
    by_setting: dict[str, dict[str, FiniteFloat]] | None = None
    outlook: _Outlook | None = None
    inputs: _Inputs | None = None
    installed: dict[str, str] | None = None
    first: Number | None = None

    @model_validator(mode="after")
    def _can_be_made_again(self) -> Self:
        if len({part is None for part in (self.inputs, self.installed, self.first)}) > 1:
            raise ValueError("what it was made from is kept whole or not at all")
        return self


class _Proposed(_Shape):
    proposal: _Proposal


class _Adviser(_Sheet):
    trials: list[Values] = []


class _AdvisersChosen(_Shape):
    advisers: list[_Adviser]


class _AboutTrial(_Shape):
    trial: Number


class _Part(_Shape):
    name: str
    value: FiniteFloat | None = None
    unit: str = ""
    step: FiniteFloat | None = None
    weight: FiniteFloat
    steps: FiniteFloat


class _Details(_Shape):
    reference: _Recording | None = None
    capture: _Recording | None = None
    goal: _Goal | None = None
    reel: str | None = None
    parts: list[_Part] = []
    parts_without: list[list[FiniteFloat]] = []
    goal_parts: list[_Part] = []
    goal_parts_without: list[list[FiniteFloat]] = []
    advice: list[str] = []
    warnings: list[str] = []
    sweep: list[dict[str, FiniteFloat]] = []
    delay_ms: FiniteFloat = 0.0
    drift_ppm: FiniteFloat = 0.0
    polarity: int = 1
    measure_version: str = ""

    @model_validator(mode="after")
    def _both_or_neither(self) -> Self:
        if (self.reference is None) != (self.capture is None):
            raise ValueError("a take has a reference and a capture")
        return self


class _Trial(_Shape):
    trial: Number
    settings: Values
    day: Annotated[str, AfterValidator(_day)] | None = None
    state: str = "measured"
    note: Text = ""


class _Made(_Shape):
    trial: _Trial
    asked: Values | None = None
    details: _Details = _Details()


class _Changes(_Shape):
    settings: Values = {}
    day: Annotated[str, AfterValidator(_day)] | None = None
    note: Text = ""


class _Amended(_AboutTrial):
    changes: _Changes
    details: _Details = _Details()


class _Heard(_AboutTrial):
    correct: Annotated[int, Field(ge=0)]
    tries: Annotated[int, Field(ge=1)]
    finished: bool


_SHAPES: Final[Mapping[str, type[_Shape]]] = {
    "started": _Sheet,
    "sheet changed": _Sheet,
    "reel made": _ReelMade,
    "goal recorded": _GoalRecorded,
    "advisers chosen": _AdvisersChosen,
    "proposed": _Proposed,
    "declined": _AboutTrial,
    "withdrawn": _AboutTrial,
    "measured": _Made,
    "failed": _Made,
    "amended": _Amended,
    "remeasured": _Amended,
    "voided": _AboutTrial,
    "restored": _AboutTrial,
    "unmade": _AboutTrial,
    "heard": _Heard,
}


def check_shapes(events: Sequence[Event], name: str) -> None:
    """See that every event carries what is read of its kind; kinds that are not known are left to the study.

    Raises:
        BadInput: the first event that does not, and where; or a key that comes twice.
    """
    for number, event in enumerate(events, start=1):
        shape = _SHAPES.get(event.kind, _Shape)
        try:
            _Head(at=event.at, actor=event.actor, reason=event.reason, key=event.key)
            _Step.model_validate(event.body)
            shape.model_validate(event.body)
        except ValidationError as error:
            fault = error.errors()[0]
            place = ".".join(str(step) for step in fault["loc"])
            message = f"Event {number} of {name}, {event.kind}, cannot be: {place}: {fault['msg']}."
            raise BadInput(message, "Export the study again.") from None
    keys = [event.key for event in events if event.key]
    if len(set(keys)) < len(keys):
        raise BadInput(f"{name} holds a key twice.", "Export the study again.")
