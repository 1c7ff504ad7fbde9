"""A whole hunt through the page, on the recordings of the rehearsal amp, with the pointer."""

import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from optimiser.audio import build_reel, read_recording, write_wav
from optimiser.rehearsal import RATE_HZ
from optimiser.space import RiffOrder
from optimiser.study import load_sheet
from optimiser.workflow.rehearsing import Rehearsal
from tests.browser.conftest import NAME, Open, Seen, missing
from tests.service.server import ROOT, Server

pytestmark = pytest.mark.ci

Serve = Callable[..., Server]


@pytest.fixture
def pretend(tmp_path: Path) -> Rehearsal:
    """The pretend amp, which plays the proof reel in the order of its sheet, as the page gives it."""
    (tmp_path / "room" / "takes").mkdir(parents=True)
    made = Rehearsal(3, tmp_path / "room")
    riffs = next(one for one in load_sheet(made.sheet_text()).space.settings if isinstance(one, RiffOrder)).riffs
    vars(made)["proof"] = build_reel(made.riffs, riffs, "proof", int(RATE_HZ))
    return made


def hand_over(seen: Seen, pretend: Rehearsal, number: int) -> None:
    """Make the take that is proposed on the pretend amp, and give it to the page."""
    proposal = seen.ask(f"studies/{NAME}")["proposals"][0]
    assert proposal["trial"] == number
    (reference, capture), reading = pretend.perform(number, proposal["settings"])
    seen.page.get_by_role("link", name="Hand over the take").click()
    seen.headed(f"Hand over trial {number}")
    seen.page.get_by_label("Device reading").fill(f"{reading:.1f}")
    seen.page.get_by_label("Reference, the real chain").set_input_files([capture, reference])
    assert reference.name in seen.page.locator("#reference-name").inner_text()
    seen.page.get_by_label("Ear rating").fill("7")
    seen.button("Hand over")
    seen.headed(f"Trial {number} is in")
    score = seen.page.locator(".score .figure strong").inner_text()
    kept = seen.ask(f"studies/{NAME}/trials/{number}")
    assert score == f"{kept['overall']:.1f}"
    assert (kept["reading"], kept["ear"]) == (round(reading, 1), 7.0)
    seen.page.get_by_text(f"Next, trial {number + 1}:").wait_for()


def begin(seen: Seen, pretend: Rehearsal, tmp_path: Path) -> None:
    """Start the study and keep its goal reference, a recording of the reel that the page gives."""
    seen.page.get_by_text("Start a study from a sheet").click()
    seen.page.get_by_label("Or its text").fill(pretend.sheet_text())
    seen.button("Start the study")
    seen.headed("First, the tone you want")
    assert seen.page.get_by_text("Never run a valve amplifier without its load").is_visible()
    seen.page.get_by_role("link", name="Record the goal reference").click()
    seen.headed("Goal reference")
    with seen.page.expect_download() as fetched:
        seen.button("Download the proof reel")
    fetched.value.save_as(tmp_path / "proof.wav")
    proof, rate_hz = read_recording(tmp_path / "proof.wav")
    assert rate_hz == RATE_HZ
    assert np.allclose(proof[:, 0], pretend.proof.samples, atol=2.0**-22)
    write_wav(tmp_path / "goal.wav", pretend.amp.goal_reference(proof[:, 0], seed=3), int(RATE_HZ))
    seen.page.get_by_label("The recording").set_input_files(tmp_path / "goal.wav")
    seen.button("Keep as goal reference")
    seen.headed("What next?")
    assert seen.ask(f"studies/{NAME}")["goal_reference"]["name"] == "goal.wav"


def test_a_whole_hunt_from_pairing_to_the_recall_sheet(
    serve: Serve, open_page: Open, pretend: Rehearsal, tmp_path: Path
) -> None:
    server = serve("--lan")
    seen = open_page(server.address)
    seen.page.goto(server.address)
    seen.headed("Pair this device")
    seen.page.goto("about:blank")
    seen.page.goto(server.link)
    seen.headed("Studies")
    assert "pair" not in seen.page.url
    begin(seen, pretend, tmp_path)
    seen.button("Show what to set next")
    seen.headed("Set now")
    hand_over(seen, pretend, 1)
    seen.page.get_by_role("link", name="What to set next").click()
    seen.headed("Set now")
    assert seen.page.locator(".move strong").first.inner_text() in ("leave", "turn up", "turn down")
    hand_over(seen, pretend, 2)

    seen.go(f"s/{NAME}/trial/2", "Trial 2")
    seen.button("Put something right")
    dialog = seen.page.get_by_role("dialog")
    dialog.get_by_label("Reading").fill("6.9")
    dialog.get_by_label("Why").fill("misread")
    dialog.get_by_role("button", name="Keep it so").click()
    seen.page.locator(".events").get_by_text("misread").wait_for()
    assert seen.ask(f"studies/{NAME}/trials/2")["reading"] == 6.9
    for press, confirm, state in (
        ("Strike it out", "Strike it out", "void"),
        ("Let it count again", "Let it count", "measured"),
    ):
        seen.button(press)
        seen.page.get_by_role("dialog").get_by_role("button", name=confirm).click()
        seen.page.get_by_role("dialog").wait_for(state="detached")
        seen.page.get_by_role(
            "button", name="Strike it out" if state == "measured" else "Let it count again"
        ).wait_for()
        assert seen.ask(f"studies/{NAME}/trials/2")["state"] == state
    seen.go(f"s/{NAME}/trials", "Trials")
    seen.button("Take back the newest change")
    seen.page.get_by_role("dialog").get_by_role("button", name="Take it back").click()
    seen.page.get_by_role("dialog").get_by_text("That trial 2 counts again; it is struck out now.").wait_for()
    seen.page.get_by_role("dialog").get_by_role("button", name="I see").click()
    seen.page.get_by_text("struck out").first.wait_for()

    what_if(seen)
    blind(seen)
    seen.go(f"s/{NAME}/trial/1", "Trial 1")
    with seen.page.expect_popup() as opened:
        seen.page.get_by_role("link", name="Recall sheet, to print").click()
    sheet = opened.value
    sheet.get_by_role("heading", name=re.compile("trial 1")).wait_for()
    assert sheet.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert seen.ask("sessions")["sessions"][0]["own"]


def what_if(seen: Seen) -> None:
    """A dial that is moved tells what the service predicts there."""
    seen.go(f"s/{NAME}/what-if/1", "What if")
    figure = seen.page.locator(".prediction .figure strong")
    figure.wait_for()
    slider = seen.page.get_by_label("gain", exact=True)
    before = slider.input_value()
    slider.press("PageDown")
    slider.press("PageDown")
    assert slider.input_value() != before
    settings = {**seen.ask(f"studies/{NAME}/trials/1")["settings"], "gain": float(slider.input_value())}
    predicted = seen.page.evaluate(
        "([name, settings]) => fetch(`api/studies/${name}/predict`, {method: 'POST', body: JSON.stringify({settings}),"
        " headers: {'Content-Type': 'application/json'}}).then(answer => answer.json())",
        [NAME, settings],
    )
    seen.expect(figure).to_have_text(f"{predicted['mean']:.0f}")


def blind(seen: Seen) -> None:
    """Eight tries chosen beforehand; nothing tells what X is before the answer."""
    seen.go(f"s/{NAME}/listen/1", "Compare by ear")
    seen.button("Play")
    seen.expect(seen.page.locator(".deck output")).to_have_text(re.compile(r"[1-7]\.\d s"))
    seen.page.keyboard.press("b")
    assert seen.page.locator("[data-part=capture]").get_attribute("aria-pressed") == "true"
    seen.page.get_by_label("How many tries").select_option("8")
    seen.button("Begin")
    for number in range(1, 9):
        seen.page.get_by_role("heading", name=f"Try {number} of 8").wait_for()
        assert seen.page.locator("#main").get_by_text("X was").count() == (number > 1)
        seen.button("X is the reference")
    seen.page.get_by_role("heading", name="Result").wait_for()
    said = seen.page.locator("section .lead").first.inner_text()
    assert said.startswith(("You told them apart", "No difference shown"))
    heard = seen.ask(f"studies/{NAME}/trials/1")["heard"]
    assert heard["tries"] == 8
    assert f"{heard['correct']} right of 8" in seen.page.locator("#main").inner_text()


LOOPBACK_UP = (
    "import fcntl, os, socket, struct, sys; s = socket.socket(); "
    "fcntl.ioctl(s, 0x8914, struct.pack('16sh14x', b'lo', 0x49)); os.execv(sys.argv[1], sys.argv[1:])"
)
"""Switches the loopback device on (SIOCSIFFLAGS: up, loopback, running), then becomes what it is told."""


def test_the_hunt_works_where_there_is_no_network_at_all(tmp_path: Path) -> None:
    try:
        alone = subprocess.run(["unshare", "-n", "true"], check=False, capture_output=True).returncode == 0
    except OSError:
        alone = False
    if not alone:
        missing("no network namespace can be made here")
    test = f"{Path(__file__).relative_to(ROOT)}::test_a_whole_hunt_from_pairing_to_the_recall_sheet"
    pytest_words = [
        sys.executable,
        "-m",
        "pytest",
        "-m",
        "ci",
        "-p",
        "no:cacheprovider",
        f"--basetemp={tmp_path / 'in'}",
        test,
    ]
    done = subprocess.run(
        ["unshare", "-n", sys.executable, "-c", LOOPBACK_UP, *pytest_words],
        check=False, capture_output=True, text=True, cwd=ROOT, env=os.environ, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-4000:]
    assert "1 passed" in done.stdout
