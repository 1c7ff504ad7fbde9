"""What is said of the number that a capture device shows: what it counts as, which one is accepted, when to do it
again."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Ask = Callable[..., Any]
Say = Callable[..., str]


def flat(text: str) -> str:
    return " ".join(text.split())


def test_a_reading_alone_is_told_as_what_it_is(ask: Ask, say: Say, sheet: Path) -> None:
    """5 on a scale from 0 with 6 or more wanted is five sixths of the way: 83.3 of 100 while nothing else is known."""
    basis = "by the device reading alone (100 at 6 or more, falling evenly to 0 at 0), until there are other scores"
    ask("start", sheet)
    ask("next", "club-amp")
    said = flat(say("log", "club-amp", "--reading", 5))
    assert f"Counts as 83.3 of 100 {basis}" in said
    assert "Overall" not in said
    assert ask("review", "club-amp")["best"]["by_reading"].startswith(basis)
    for command in ("review", "next"):
        assert f"Scores: go {basis}" in flat(say(command, "club-amp"))
    assert "highest by its reading alone 83.3" in flat(say("studies"))
    own = [
        word
        for name, said in ask("next", "club-amp")["proposals"][0]["shown"].items()
        for word in ("--set", f"{name}={said}")
    ]
    assert f"Scores: go {basis}" in flat(say("predict", "club-amp", *own))
    ask("review", "club-amp", "--out", sheet.parent / "out")
    assert f"Scores go {basis}" in (sheet.parent / "out" / "report.html").read_text(encoding="utf-8")
    ask("log", "club-amp", "--overall", 50)
    for command in ("review", "next", "studies"):
        assert "alone" not in say(command, *["club-amp"] * (command != "studies"))
    ask("next", "club-amp")
    assert "Tells of which readings are to be expected; by itself it is no score" in flat(
        say("log", "club-amp", "--reading", 7)
    )


@pytest.mark.parametrize(
    ("band", "told"),
    [
        ("", "device reading 6 or more"),
        ("wanted = [5, 7]", "device reading 5 or more"),
        ('name = "lamp"\nupper = true', "lamp 6 to 8"),
    ],
)
def test_which_reading_is_accepted_is_named(ask: Ask, say: Say, sheet: Path, band: str, told: str) -> None:
    sheet.write_text(sheet.read_text() + band)
    ask("start", sheet)
    for reading in (5, 7):
        ask("next", "club-amp")
        ask("log", "club-amp", "--overall", 10 * reading, "--reading", reading)
    proposal = ask("next", "club-amp")["proposals"][0]
    chance = f"{told}: {100 * proposal['chance_in_band']:.0f} %"
    assert proposal["accepted"] == told
    assert chance in flat(say("next", "club-amp"))
    settings = [word for name, value in proposal["shown"].items() for word in ("--set", f"{name}={value}")]
    assert chance.capitalize() in flat(say("predict", "club-amp", *settings))


def test_a_reading_that_asks_for_it_again_does_not_just_go_on(ask: Ask, say: Say, sheet: Path) -> None:
    ask("start", sheet)
    ask("next", "club-amp")
    said = say("log", "club-amp", "--overall", 50, "--reading", 4)
    assert "do it again, with less gain or a tamer stage first" in flat(said)
    again = "optimiser take club-amp REFERENCE.wav CAPTURE.wav --set gain=... --set stage=... --set mic=... --set"
    assert f"Again, tamer: {again}" in flat(said)
    assert said.splitlines()[-1] == "Or go on: optimiser next club-amp"
    ask("next", "club-amp")
    assert say("log", "club-amp", "--overall", 50, "--reading", 5).splitlines()[-1] == "Next: optimiser next club-amp"
