"""What hands have to do to get from one arrangement to another."""

from collections.abc import Mapping
from dataclasses import dataclass

from optimiser.space.riff_order import RiffOrder
from optimiser.space.settings import Value
from optimiser.space.settings_space import SettingsSpace


@dataclass(frozen=True)
class Change:
    """One setting that changes.

    Attributes:
        setting: its name.
        before: how it stands, as people say it; empty when it did not exist.
        after: how it is to stand; empty when it no longer exists.
        order: of a riff order, which is too long to be said twice, what becomes of it.
    """

    setting: str
    before: str
    after: str
    order: str = ""

    def __str__(self) -> str:
        if not self.after:
            return f"{self.setting} is not needed"
        if self.order and self.before:
            return f"{self.setting} {self.order}"
        return f"{self.setting} {self.before} -> {self.after}" if self.before else f"{self.setting} to {self.after}"


def changes(space: SettingsSpace, before: Mapping[str, Value], after: Mapping[str, Value]) -> tuple[Change, ...]:
    """The settings that differ between two arrangements, in the order of the sheet."""
    was, becomes = space.show(before), space.show(after)
    return tuple(
        Change(
            name,
            was.get(name, ""),
            becomes.get(name, ""),
            order_in_words(before.get(name), after.get(name)) if isinstance(setting, RiffOrder) else "",
        )
        for name, setting in space.by_name.items()
        if before.get(name) != after.get(name)
    )


def order_in_words(before: Value | None, after: Value | None) -> str:
    """`in another order`, `with gallop`, `without run`: what becomes of a riff order."""
    was, becomes = (value if isinstance(value, list) else [] for value in (before, after))
    joined, gone = ([riff for riff in one if riff not in other] for one, other in ((becomes, was), (was, becomes)))
    moved = [riff for riff in was if riff in becomes] != [riff for riff in becomes if riff in was]
    told = ["in another order"] if moved else []
    told += [f"{word} {' and '.join(riffs)}" for word, riffs in (("with", joined), ("without", gone)) if riffs]
    return " and ".join(told)


def changes_in_words(space: SettingsSpace, before: Mapping[str, Value], after: Mapping[str, Value]) -> str:
    """`gain 3:00 -> 1:00; leave stage, mic`: what to change, then what to leave alone."""
    changed = changes(space, before, after)
    left = [name for name in after if name not in {change.setting for change in changed}]
    words = ", ".join(str(change) for change in changed) or "nothing"
    return f"{words}; leave {', '.join(left)}" if left and changed else words
