"""Devices that may use the service over a network. Of their secrets only the SHA-256 is kept."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from optimiser.errors import NotFound
from optimiser.storage.rows import storable

if TYPE_CHECKING:
    from optimiser.storage.connections import Connections


@dataclass(frozen=True)
class Session:
    """One device.

    Attributes:
        id: 32 hexadecimal digits, no secret.
        label: what people call the device.
        created_at: when it was paired, ISO 8601 in UTC.
        ends_at: when it has to be paired again, ISO 8601 in UTC.
    """

    id: str
    label: str
    created_at: str
    ends_at: str


class SessionTable:
    """The devices by their secrets."""

    def __init__(self, connections: "Connections") -> None:
        self._connections = connections

    def add(self, secret: str, label: str, now: datetime, ends: datetime) -> Session:
        """Let a device in that holds this secret of 128 bits or more."""
        from sqlalchemy import insert

        from optimiser.storage.tables import SESSION

        times = [when.isoformat(timespec="seconds") for when in (now, ends)]
        session = Session(secrets.token_hex(16), storable(label, "label"), *times)
        with self._connections.writing(), self._connections.transaction() as connection:
            connection.execute(insert(SESSION).values(**vars(session), secret_sha256=_digest(secret)))
        return session

    def find(self, secret: str, now: datetime) -> Session | None:
        """The device that holds this secret, None when there is none or its time is over."""
        from sqlalchemy import select

        from optimiser.storage.tables import SESSION

        with self._connections.reading() as connection:
            found = select(SESSION).where(SESSION.c.secret_sha256 == _digest(secret))
            row = connection.execute(found).mappings().first()
        if row is None or datetime.fromisoformat(row["ends_at"]) <= now:
            return None
        return Session(row["id"], row["label"], row["created_at"], row["ends_at"])

    def all(self) -> tuple[Session, ...]:
        """Every device, the one paired first first."""
        from sqlalchemy import select

        from optimiser.storage.tables import SESSION

        columns = (SESSION.c.id, SESSION.c.label, SESSION.c.created_at, SESSION.c.ends_at)
        with self._connections.reading() as connection:
            rows = connection.execute(select(*columns).order_by(SESSION.c.created_at, SESSION.c.id)).all()
        return tuple(Session(*row) for row in rows)

    def revoke(self, session: str) -> None:
        """Shut a device out.

        Raises:
            NotFound: no such device.
        """
        from sqlalchemy import delete

        from optimiser.storage.tables import SESSION

        if session not in [known.id for known in self.all()]:
            raise NotFound(f"There is no session {session[:32]!r}.", "The list of sessions shows what there is.")
        with self._connections.writing(), self._connections.transaction() as connection:
            connection.execute(delete(SESSION).where(SESSION.c.id == session))


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()
