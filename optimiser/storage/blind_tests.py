"""Blind tests that are going on, and what X is in each try, which nobody is told before the answer."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from optimiser.errors import BadUse, NotFound

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from optimiser.storage.connections import Connections


@dataclass(frozen=True)
class BlindTest:
    """One blind test of a trial's two recordings.

    Attributes:
        id: 32 hexadecimal digits.
        study: whose it is.
        trial: number of the trial.
        hidden: for each try what X is, `a` the reference, `b` the capture.
        answers: what was answered so far, in the same letters.
        start_s: where in the reference the excerpt starts, in seconds.
        seconds: how long it lasts.
        state: `open`, `finished` or `stopped`.
        created_at: ISO 8601.
    """

    id: str
    study: str
    trial: int
    hidden: str
    answers: str
    start_s: float
    seconds: float
    state: str
    created_at: str

    @property
    def correct(self) -> int:
        """Right answers so far."""
        return sum(answer == right for answer, right in zip(self.answers, self.hidden, strict=False))


class BlindTestTable:
    """The blind tests by id."""

    def __init__(self, connections: "Connections") -> None:
        self._connections = connections

    def add(
        self, study: str, trial: int, tries: int, excerpt: tuple[float, float], now: datetime, *, key: str = ""
    ) -> BlindTest:
        """Begin a blind test; what X will be is drawn now, by the system's own source of chance.

        The same key for the same study again gives the test that is there.
        """
        from sqlalchemy import insert

        from optimiser.storage.tables import BLIND_TEST

        test = BlindTest(
            id=_id_of(study, key) if key else secrets.token_hex(16),
            study=study,
            trial=trial,
            hidden="".join(secrets.choice("ab") for _ in range(tries)),
            answers="",
            start_s=excerpt[0],
            seconds=excerpt[1],
            state="open",
            created_at=now.isoformat(timespec="seconds"),
        )
        with self._connections.writing(), self._connections.transaction() as connection:
            known = _known(connection, study, test.id)
            if known is None:
                connection.execute(insert(BLIND_TEST).values(**vars(test)))
        return known or test

    def get(self, study: str, test: str) -> BlindTest:
        """The blind test of that id.

        Raises:
            NotFound: the study has none.
        """
        with self._connections.reading() as connection:
            return _found(connection, study, test)

    def answer(self, study: str, test: str, number: int, answer: str) -> BlindTest:
        """Keep the answer to try `number`, counted from 1; the same answer again changes nothing.

        Raises:
            NotFound: the study has no such test.
            BadUse: another try is due, the try was answered otherwise, or the test is over.
        """
        with self._connections.writing(), self._connections.transaction() as connection:
            found = _found(connection, study, test)
            if number <= len(found.answers) and found.answers[number - 1] == answer:
                return found
            if found.state != "open" or number != len(found.answers) + 1:
                due = "It is over." if found.state != "open" else f"Try {len(found.answers) + 1} is due."
                raise BadUse(f"Try {number} of this blind test takes no answer.", due)
            answers = found.answers + answer
            state = "finished" if len(answers) == len(found.hidden) else "open"
            return _changed(connection, found, answers=answers, state=state)

    def stop(self, study: str, test: str) -> BlindTest:
        """End a blind test before its last try; one that is over stays as it is.

        Raises:
            NotFound: the study has no such test.
        """
        with self._connections.writing(), self._connections.transaction() as connection:
            found = _found(connection, study, test)
            return _changed(connection, found, state="stopped") if found.state == "open" else found


def _id_of(study: str, key: str) -> str:
    return hashlib.sha256(f"{study}\n{key}".encode()).hexdigest()[:32]


def _found(connection: "Connection", study: str, test: str) -> BlindTest:
    found = _known(connection, study, test)
    if found is None:
        raise NotFound(f"{study} has no blind test {test[:32]!r}.", "Begin one, and use the id that it was given.")
    return found


def _known(connection: "Connection", study: str, test: str) -> BlindTest | None:
    from sqlalchemy import select

    from optimiser.storage.rows import is_storable
    from optimiser.storage.tables import BLIND_TEST

    if not (is_storable(study) and is_storable(test)):
        return None
    wanted = select(BLIND_TEST).where(BLIND_TEST.c.id == test, BLIND_TEST.c.study == study)
    row = connection.execute(wanted).mappings().first()
    return BlindTest(**dict(row)) if row is not None else None


def _changed(connection: "Connection", test: BlindTest, **entries: Any) -> BlindTest:
    from sqlalchemy import update

    from optimiser.storage.tables import BLIND_TEST

    connection.execute(update(BLIND_TEST).where(BLIND_TEST.c.id == test.id).values(**entries))
    return BlindTest(**{**vars(test), **entries})
