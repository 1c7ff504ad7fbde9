"""What every request finds in the service: the store, the rules, and what is kept between requests."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Annotated, Final

from fastapi import Depends, Header, Request

from optimiser.service.guesses import Guesses
from optimiser.service.memo import Memo
from optimiser.service.pairing import Pairing
from optimiser.storage import Store
from optimiser.workflow import Stamp

KEY_LENGTH: Final = 200
"""Characters that an idempotency key may have (a choice, no source)."""

_LOOKS: Final = 12
_FIGURES: Final = 6
_CLIPS: Final = 4


@dataclass(frozen=True)
class Rules:
    """Who may use the service, and as what.

    Attributes:
        paired: whether a session is needed; so for everything but this machine alone.
        names: host names beside addresses and `localhost` under which it is asked for.
        actor: whom changes are owed to where no session says so.
    """

    paired: bool = False
    names: frozenset[str] = frozenset()
    actor: str = ""


def _nobody_waits() -> None:
    """There is no worker to be woken."""


@dataclass
class Desk:
    """What requests share.

    Attributes:
        store: the open store.
        rules: who may use the service.
        pairing: codes for new devices.
        guesses: wrong guesses at codes and sessions.
        looks: outlooks that were worked out.
        figures: figures that were drawn, with what mattered.
        clips: excerpts that were cut.
        streams: pages that listen to the stream of events.
        wake: tells the worker that there is something to do.
        clock: seconds that only ever grow.
        address: where other devices find the page; empty where nobody said.
    """

    store: Store
    rules: Rules
    pairing: Pairing = field(default_factory=Pairing)
    guesses: Guesses = field(default_factory=Guesses)
    looks: Memo = field(default_factory=lambda: Memo(_LOOKS))
    figures: Memo = field(default_factory=lambda: Memo(_FIGURES))
    clips: Memo = field(default_factory=lambda: Memo(_CLIPS))
    streams: int = 0
    wake: Callable[[], None] = _nobody_waits
    clock: Callable[[], float] = time.monotonic
    address: str = ""


@dataclass(frozen=True)
class Caller:
    """Who asks, and under which key.

    Attributes:
        actor: whom a change is owed to.
        key: idempotency key; the same key again changes nothing.
    """

    actor: str
    key: str

    def stamp(self, reason: str = "") -> Stamp:
        """Now, by this caller."""
        return Stamp(datetime.now(UTC), self.actor, reason, self.key)


def _desk(request: Request) -> Desk:
    desk: Desk = request.app.state.desk
    return desk


AtDesk = Annotated[Desk, Depends(_desk)]

IdempotencyKey = Annotated[
    str,
    Header(
        alias="Idempotency-Key",
        description="The same key again changes nothing, and gives the answer of the first time.",
        max_length=KEY_LENGTH,
        pattern=r"^[\x21-\x7e]*$",
    ),
]


def _caller(request: Request, desk: AtDesk, key: IdempotencyKey = "") -> Caller:
    return Caller(getattr(request.state, "device", "") or desk.rules.actor, key)


By = Annotated[Caller, Depends(_caller)]
