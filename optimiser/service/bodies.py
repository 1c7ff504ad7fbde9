"""What requests carry, checked as they are read. Values of settings are read by the study itself."""

from typing import Annotated, Any, Final

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from optimiser.audio import MAX_FILE_BYTES
from optimiser.units import DAY_MINUTES
from optimiser.workflow import Answer, Wish

_LARGEST: Final = 1e9
"""A figure beyond that is a slip, and its square soon no number at all (a choice, no source)."""

_LONGEST_NOTE: Final = 10_000
_LONGEST_SHEET: Final = 500_000
_MOST_SETTINGS: Final = 100


def _plain(text: str) -> str:
    if "\0" in text:
        raise ValueError("leave the character NUL out")
    return text


def _one_line(text: str) -> str:
    if any(not letter.isprintable() for letter in text) or not text.strip():
        raise ValueError("write one line of characters that can be shown")
    return text.strip()


Note = Annotated[str, Field(max_length=_LONGEST_NOTE), AfterValidator(_plain)]
Label = Annotated[str, Field(max_length=200), AfterValidator(_one_line)]
Figure = Annotated[float, Field(allow_inf_nan=False, ge=-_LARGEST, le=_LARGEST)]
Ear = Annotated[float, Field(allow_inf_nan=False, ge=0, le=10)]
Number = Annotated[int, Field(ge=1, le=1_000_000)]
SettingValues = Annotated[
    dict[str, Any],
    Field(
        max_length=_MOST_SETTINGS,
        description="Values as numbers, names, lists of names or free mic places, or as text such as 1:30.",
        examples=[{"gain": "1:30", "stage": "pushed", "mic": "cap edge", "riffs": ["chugs", "run"]}],
    ),
]
UploadId = Annotated[str, Field(pattern=r"^[0-9a-f]{32}$", examples=["0123456789abcdef0123456789abcdef"])]


class Body(BaseModel):
    """The base of them all: nothing unknown, nothing converted."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class SheetBody(Body):
    """A study sheet: starts a study, or gives the study of that name a new version of its sheet."""

    sheet: Annotated[str, Field(min_length=1, max_length=_LONGEST_SHEET, description="The text of the TOML file.")]
    reason: Note = ""


class WishBody(Body):
    """What is asked for next."""

    count: Annotated[int, Field(ge=1, le=12)] = 1
    minutes: Annotated[float, Field(allow_inf_nan=False, gt=0, le=DAY_MINUTES)] | None = None
    lock: SettingValues | None = Field(
        None, description="Settings to be kept; left out, another keeps what was locked in what it stands in for."
    )
    other: bool = Field(False, description="Put aside what waits, and give another.")
    reason: Note = Field("", description="Why it is put aside; kept with it.")

    def wish(self) -> Wish:
        """The same for the workflow."""
        return Wish(self.count, self.minutes, self.lock, self.other)


class AnswerBody(Body):
    """What the practitioner says of a trial that was made."""

    trial: Number | None = Field(None, description="The proposal that was followed; none with settings of one's own.")
    settings: SettingValues | None = None
    reading: Figure | None = None
    ear: Ear | None = None
    note: Note = ""

    def answer(self) -> Answer:
        """The same for the workflow."""
        entries = {name: getattr(self, name, None) for name in ("overall", "reading", "ear")}
        figures = {name: figure for name, figure in entries.items() if figure is not None}
        return Answer(self.trial, self.settings or None, figures, self.note, bool(getattr(self, "failed", False)))


class TakeBody(AnswerBody):
    """A trial with its two recordings, by the ids of finished uploads."""

    reference: UploadId
    capture: UploadId


class LogBody(AnswerBody):
    """A trial without files."""

    overall: Figure | None = None
    failed: bool = Field(False, description="The run gave no capture: no score, perhaps a reading.")


class AmendBody(Body):
    """What is to stand in a trial instead."""

    settings: SettingValues = {}
    overall: Figure | None = None
    reading: Figure | None = None
    ear: Ear | None = None
    note: Note | None = None
    day: Annotated[str, Field(max_length=20)] | None = None
    clear: Annotated[list[str], Field(max_length=10)] = []
    reason: Note = ""


class ReasonBody(Body):
    """Why a change is made; kept with it."""

    reason: Note = ""


class SettingsBody(Body):
    """Settings to be predicted."""

    settings: SettingValues


class GoalBody(Body):
    """The wanted tone, a recording of the proof reel, by the id of a finished upload."""

    recording: UploadId


class ReelBody(Body):
    """A dry reel that is to be sent through the chain and the capture device, made from the built-in riffs."""

    kind: Annotated[str, Field(pattern="^(learning|proof|verify)$")] = "proof"
    trial: Number | None = Field(None, description="Whose riff order a learning reel plays.")


class MeasureBody(Body):
    """Two recordings of one reel, and perhaps the wanted tone, by the ids of finished uploads."""

    reference: UploadId
    capture: UploadId
    goal: UploadId | None = None


class UploadBody(Body):
    """A file that is going to be sent."""

    name: Label = Field(description="What it is called; a label, never a path.")
    bytes: Annotated[int, Field(ge=1, le=MAX_FILE_BYTES)]
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$", description="Of the whole file, in hexadecimal.")]


class BlindTestBody(Body):
    """A blind test of a trial's two recordings; the number of tries is chosen beforehand."""

    trial: Number
    tries: Annotated[int, Field(ge=5, le=100)] = 16
    start_s: Annotated[float, Field(allow_inf_nan=False, ge=0, le=1800)] | None = None
    seconds: Annotated[float, Field(allow_inf_nan=False, ge=1, le=30)] = 8.0


class VoteBody(Body):
    """What X is held to be."""

    number: Annotated[int, Field(alias="try", ge=1, le=100)]
    answer: Annotated[str, Field(pattern="^(reference|capture)$")]


class PairingBody(Body):
    """A code that works once, and what this device is called."""

    code: Annotated[str, Field(min_length=1, max_length=100)]
    label: Label = "a device"
    bearer: bool = Field(False, description="Also give the secret, for a program that sends it as a bearer token.")
