"""What the page weighs, that it works under the path of a proxy, and that its parts do what they say."""

import hashlib
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import numpy as np
import pytest

from optimiser.audio import write_wav
from optimiser.storage import open_store
from optimiser.study import fold, write_sheet
from optimiser.units import show_clock, show_minutes, show_number
from optimiser.workflow import Stamp, start, undo, void
from tests.browser.conftest import NAME, Open
from tests.browser.proxy import proxied
from tests.service.server import Server

pytestmark = pytest.mark.ci

Serve = Callable[..., Server]

MOST_BYTES: Final = 200_000
RATE_HZ: Final = 48_000


def test_the_first_page_is_light(serve: Serve, open_page: Open, store: Path) -> None:
    seen = open_page(serve(store=store).address)
    sizes: list[int] = []
    seen.page.on("response", lambda answer: sizes.append(int(answer.headers.get("content-length", 0))))
    seen.go(f"s/{NAME}", "Set now")
    seen.page.wait_for_timeout(1000)
    assert len(sizes) > 5
    assert 0 < sum(sizes) < MOST_BYTES, f"{sum(sizes)} bytes in {len(sizes)} answers"
    policy = seen.page.evaluate("fetch('.').then(answer => answer.headers.get('content-security-policy'))")
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


@pytest.mark.parametrize("width", [320, 390, 820, 1280])
def test_what_is_to_be_set_stands_in_large_type(serve: Serve, open_page: Open, store: Path, width: int) -> None:
    """32 px and more (a choice, no source), and no word is broken."""
    seen = open_page(serve(store=store).address, width=width)
    seen.go(f"s/{NAME}", "Set now")
    said = seen.page.locator(".settings .value, .settings .order li")
    assert said.count() >= 7
    for one in said.all():
        size, lines = one.evaluate(LARGE)
        words = len(one.inner_text().split())
        assert size >= 32
        assert lines <= words, one.inner_text()


LARGE: Final = """one => {
  const size = parseFloat(getComputedStyle(one).fontSize);
  return [size, Math.round(one.getBoundingClientRect().height / parseFloat(getComputedStyle(one).lineHeight))];
}"""


def test_a_riff_that_joins_asks_for_another_goal_reference(
    serve: Serve, open_page: Open, store: Path, tmp_path: Path
) -> None:
    with open_store(str(store)) as opened:
        text = write_sheet(fold(opened.events(NAME)).sheet).replace('"two-note"', '"two-note", "gallop"')
        start(opened, text, Stamp(datetime(2026, 3, 3, 9, 0, tzinfo=UTC)))
    seen = open_page(serve(store=store).address)
    seen.go(f"s/{NAME}", "Set now")
    seen.page.get_by_text("The sheet's riffs make another proof reel now.").wait_for()
    seen.page.get_by_role("link", name="Record it again").click()
    seen.headed("Goal reference")
    with seen.page.expect_download() as got:
        seen.button("Download the proof reel")
    got.value.save_as(tmp_path / "proof.wav")
    seen.page.get_by_text("gallop").wait_for()
    seen.go(f"s/{NAME}", "Set now")
    seen.page.get_by_text("The goal reference is of an earlier proof reel.").wait_for()


def test_what_was_taken_back_is_marked_and_what_took_it_back_says_which(
    serve: Serve, open_page: Open, store: Path
) -> None:
    with open_store(str(store)) as opened:
        void(opened, NAME, 2, Stamp(datetime(2026, 3, 3, 9, 0, tzinfo=UTC), reason="a slip"))
        struck = len(opened.events(NAME))
        undo(opened, NAME, Stamp(datetime(2026, 3, 3, 9, 1, tzinfo=UTC)))
    seen = open_page(serve(store=store).address)
    for place, heading in ((f"s/{NAME}/history", "What happened"), (f"s/{NAME}/trial/2", "Trial 2")):
        seen.go(place, heading)
        told = sorted(seen.page.locator(".events li").all_inner_texts(), key=lambda line: int(line.split(" ", 1)[0]))
        assert f"trial 2 struck out (taken back by {struck + 1}) — a slip" in told[-2]
        assert told[-1].endswith(f"trial 2 counts again, taking back {struck}")


def test_the_page_works_under_the_path_of_a_proxy(
    serve: Serve, open_page: Open, store: Path, takes: tuple[Path, Path]
) -> None:
    server = serve("--root-path", "/a/b", store=store)
    with proxied(server.address.replace("/a/b", ""), "/a/b") as address:
        seen = open_page(address)
        seen.go("", "Studies")
        seen.page.get_by_role("link", name="Rehearsal amp").click()
        seen.headed("Set now")
        seen.page.get_by_text("live", exact=True).wait_for()
        seen.go(f"s/{NAME}/take/4", "Hand over")
        seen.page.get_by_label("Reference, the real chain").set_input_files(list(takes))
        seen.button("Hand over")
        seen.headed("Trial 4 is in")
        seen.go(f"s/{NAME}/learnt", "What is known")
        seen.page.locator("figure svg").first.wait_for()
        seen.go(f"s/{NAME}/listen/4", "Compare by ear")
        seen.page.get_by_role("button", name="Play").wait_for()
        assert [url for url in seen.requests if url.startswith("http") and not url.startswith(address)] == []


def test_sums_are_those_of_the_standard(serve: Serve, open_page: Open) -> None:
    """Against Python's hashlib; pieces of odd lengths give the same sum as the whole."""
    seen = open_page(serve().address)
    seen.go("keys", "Keys")
    for size in (0, 1, 55, 56, 63, 64, 65, 119, 1000, 100_003):
        content = np.random.default_rng(size).bytes(size)
        assert seen.page.evaluate(SUMMED, list(content)) == hashlib.sha256(content).hexdigest(), size


def test_trials_beyond_what_was_planned_are_told_so(serve: Serve, open_page: Open) -> None:
    seen = open_page(serve().address)
    seen.go("keys", "Keys")
    told = seen.page.evaluate(PLANNED)
    assert told == [
        "trial 20 of 20",
        "trial 24, 4 over the 20 planned",
        "trial 24; 17 of the 20 planned are made",
        "20 of 20 planned trials measured",
        "24 trials measured, 4 over the 20 planned",
    ]


def test_figures_are_rounded_as_in_the_terminal(serve: Serve, open_page: Open) -> None:
    """Against Python's own formatting, exact halves among them."""
    seen = open_page(serve().address)
    seen.go("keys", "Keys")
    rng = np.random.default_rng(1)
    values = [*(np.arange(-81, 82) / 8).tolist(), *rng.normal(0.0, 60.0, 300).tolist(), 51.25, 1.15, 1234.5, 1e5 + 0.5]
    told = seen.page.evaluate(ROUNDED, values)
    for value, (whole, tenths, hundredths, knob, share, face, span) in zip(values, told, strict=True):
        assert [whole, tenths, hundredths] == [f"{value:.{digits}f}" for digits in range(3)], value
        assert knob.replace("−", "-") == show_number(value), value
        assert face == show_clock(7 + abs(value) % 10), value
        assert span.replace("\u00a0", " ") in (show_minutes(abs(value)), "none"), value
        assert share == f"{100 * (abs(value) % 0.99 + 0.005):.0f}\u00a0%", value


def test_switching_between_clips_makes_no_click(serve: Serve, open_page: Open, tmp_path: Path) -> None:
    """Rendered without a sound card: two clips of one sine, switched to and fro, hold no step above the sine's own."""
    seen = open_page(serve().address)
    seen.go("keys", "Keys")
    times = np.arange(RATE_HZ) / RATE_HZ
    write_wav(tmp_path / "sine.wav", 0.5 * np.sin(2 * np.pi * 440.0 * times), RATE_HZ)
    heard = seen.page.evaluate(SWITCHED, list((tmp_path / "sine.wav").read_bytes()))
    sound = np.array(heard["sound"])
    started = np.flatnonzero(np.abs(sound) > 1e-6)[0]
    own_step = 0.5 * 2 * np.pi * 440.0 / RATE_HZ
    assert heard["switches"] == ["b", "a", "b"]
    assert np.abs(np.diff(sound[started:])).max() <= 1.001 * own_step
    level = np.sqrt(np.mean(sound[started + 480 : started + 480 + 12_000] ** 2))
    assert abs(20 * np.log10(level / (0.5 / np.sqrt(2)))) < 0.1


SUMMED: Final = """async content => {
  const { Sha256 } = await import('./static/sha256.js');
  const sum = new Sha256();
  const all = Uint8Array.from(content);
  for (let at = 0; at < all.length; at += 37) sum.update(all.subarray(at, at + 37));
  return sum.hex();
}"""

SWITCHED: Final = """async bytes => {
  let made = null;
  const Real = OfflineAudioContext;
  window.AudioContext = class extends Real {
    constructor() { super(1, 38400, 48000); made = this; }
    resume() { return Promise.resolve(); }
  };
  const { Player } = await import('./static/player.js');
  const clip = Uint8Array.from(bytes).buffer;
  const player = new Player({ a: clip, b: clip.slice(0) });
  await player.ready();
  await player.play();
  const switches = [];
  ['b', 'a', 'b'].forEach((name, place) => made.suspend(0.2 + 0.15 * place).then(() => {
    player.hear(name);
    switches.push(player.heard);
    Real.prototype.resume.call(made);
  }));
  const rendered = await made.startRendering();
  return { sound: Array.from(rendered.getChannelData(0)), switches };
}"""

PLANNED: Final = """async () => {
  const { measuredOf, trialOf } = await import('./static/words.js');
  const study = (measured) => ({ measured, planned: 20 });
  const trials = [trialOf(20, study(19)), trialOf(24, study(23)), trialOf(24, study(17))];
  return [...trials, measuredOf(study(20)), measuredOf(study(24))];
}"""

ROUNDED: Final = """async values => {
  const { clock, minutes, number, percent, shown } = await import('./static/words.js');
  const knob = { kind: 'knob', scale: 'number' };
  return values.map((value) => [
    ...[0, 1, 2].map((digits) => number(value, digits)), shown(knob, value), percent(Math.abs(value) % 0.99 + 0.005),
    clock(7 + Math.abs(value) % 10), minutes(Math.abs(value)),
  ]);
}"""
