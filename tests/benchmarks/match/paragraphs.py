"""What a section of the report is made of."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Section:
    """One part of the result.

    Attributes:
        text: for the README.
        lines: for the summary: figure, of, value, cases, and where there are any low, high, beside.
    """

    text: str
    lines: tuple[dict[str, Any], ...] = ()


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table for the README."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def line(figure: str, of: str, value: float, cases: int, **more: Any) -> dict[str, Any]:
    """One line of the summary."""
    return {"figure": figure, "of": of, "value": f"{value:.4g}", "cases": cases, **more}
