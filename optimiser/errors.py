"""Every way in which the tool says no.

    OptimiserError                 never raised itself
    ├── BadUse                     the call's words are off
    ├── BadInput                   something handed in cannot be used
    │   ├── SheetError             a study sheet, with every fault in it
    │   ├── InvalidSettings        an arrangement of settings
    │   ├── InvalidTrial           a figure of a trial that cannot be
    │   └── InvalidRecording       a sound file or array
    ├── NotFound                   a study, trial, proposal or file that is not there
    ├── NothingLeft                the sheet leaves no arrangement to propose
    ├── StorageError               the store cannot be read or written
    │   └── NoStore                there is none where it was looked for
    └── Busy                       somebody else is writing

A message is one line that says what is wrong; a hint is one line that says how to mend it. What the families mean to
the caller of a program and of a service stands in one table, OUTCOMES.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple


class OptimiserError(Exception):
    """Root of the tree. `code` is what programs read, `message` and `hint` what people read."""

    code = "error"

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip()


class BadUse(OptimiserError):
    """A command or function was called with words that do not go together."""

    code = "bad_use"


class BadInput(OptimiserError):
    """Something handed in cannot be used as it is."""

    code = "bad_input"


NOTHING: Final = "nothing"
"""What is found of an entry or setting that is missing."""


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong in a study sheet or an arrangement of settings.

    Attributes:
        table: where it stands, as in `settings.gain`.
        key: the entry, empty when the whole table is meant.
        found: what stands there, NOTHING where it is missing.
        expected: what may stand there.
        mend: what to write instead.
    """

    table: str
    key: str
    found: str
    expected: str
    mend: str

    def __str__(self) -> str:
        place = f"[{self.table}] {self.key}".strip() if self.table else self.key
        end = "" if self.mend.endswith("?") else "."
        found = " is missing" if self.found == NOTHING else f": found {self.found}"
        return f"{place}{found}, expected {self.expected}; {self.mend}{end}"


MOST_QUOTED: Final = 120
"""Characters of a value that are quoted in a message (a choice, no source)."""

_DEEPEST: Final = 4
_MOST_BITS: Final = 4096
"""Whole numbers of more bits are told in hexadecimal; Python refuses to make decimals of very long ones."""

_ESCAPED: Final = {'"': r"\"", "\\": r"\\", "\n": r"\n", "\t": r"\t"}
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")


def as_written(raw: object) -> str:
    """A value as it would stand in a study sheet, in TOML; a long one is cut, one that is missing is NOTHING."""
    text = _toml(raw, 0)
    return text if len(text) <= MOST_QUOTED else f"{text[: MOST_QUOTED - 3]}..."


def _toml(raw: object, depth: int) -> str:
    if depth > _DEEPEST:
        return "..."
    match raw:
        case None:
            return NOTHING
        case bool():
            return str(raw).lower()
        case str():
            return f'"{"".join(map(_character, raw))}"'
        case Mapping():
            entries = [f"{_key(str(key))} = {_toml(entry, depth + 1)}" for key, entry in raw.items()]
            return f"{{ {', '.join(entries)} }}" if entries else "{}"
        case list() | tuple():
            return f"[{', '.join(_toml(entry, depth + 1) for entry in raw)}]"
        case int() if raw.bit_length() > _MOST_BITS:
            return hex(raw)
    return str(raw)


def _character(character: str) -> str:
    if character.isprintable():
        return _ESCAPED.get(character, character)
    code = ord(character)
    return _ESCAPED.get(character, f"\\u{code:04x}" if code < 1 << 16 else f"\\U{code:08x}")


def _key(key: str) -> str:
    return key if _BARE_KEY.fullmatch(key) else _toml(key, 0)


class _FaultsError(BadInput):
    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class SheetError(_FaultsError):
    """A study sheet with every fault in it, one line each."""

    code = "bad_sheet"


class InvalidSettings(_FaultsError):
    """An arrangement of settings that does not fit the sheet, one line for each fault."""

    code = "bad_settings"


class InvalidTrial(BadInput):
    """A figure of a trial that cannot be, such as an ear rating of 11."""

    code = "bad_trial"


class InvalidRecording(BadInput):
    """A recording that cannot be measured. `fault` is a short name such as `silent` or `mismatch`."""

    code = "bad_recording"

    def __init__(self, message: str, hint: str = "", fault: str = "unreadable") -> None:
        super().__init__(message, hint)
        self.fault = fault


class NotFound(OptimiserError):
    """A study, trial, proposal or file that is not there."""

    code = "not_found"


class NothingLeft(BadInput):
    """Locks, bans and proposals put aside leave no arrangement that could be tried."""

    code = "nothing_left"


class StorageError(OptimiserError):
    """The store cannot be read or written, or is not ours."""

    code = "storage"


class NoStore(StorageError):
    """There is no store where it was looked for."""


class Busy(OptimiserError):
    """Another process is writing to the store and did not finish in time."""

    code = "busy"


class Outcome(NamedTuple):
    """What a caller is told besides words.

    Attributes:
        exit_code: of a program in a terminal.
        status: of an answer over HTTP.
    """

    exit_code: int
    status: int


OUTCOMES: Final[dict[type[OptimiserError], Outcome]] = {
    BadUse: Outcome(2, 400),
    BadInput: Outcome(3, 422),
    NothingLeft: Outcome(3, 409),
    NotFound: Outcome(4, 404),
    StorageError: Outcome(5, 507),
    Busy: Outcome(6, 503),
}
"""By family; an error has that of the nearest family it belongs to."""


def outcome_of(error: OptimiserError) -> Outcome:
    """The outcome of an error: that of the nearest family it belongs to."""
    return next(OUTCOMES[family] for family in type(error).__mro__ if family in OUTCOMES)
