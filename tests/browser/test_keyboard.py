"""By keyboard alone: the hunt, putting a trial right, what-if and a whole blind test; each result is in the ledger."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pytest

from tests.browser.conftest import NAME, Open, Seen
from tests.service.server import Server

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.ci

Serve = Callable[..., Server]

MOST_STEPS: Final = 80

FOCUSED: Final = """() => {
  const one = document.activeElement;
  const shown = getComputedStyle(one).opacity === "0" ? one.nextElementSibling : one;
  const box = shown.getBoundingClientRect();
  const hit = document.elementFromPoint(box.left + box.width / 2, box.top + Math.min(box.height / 2, 20));
  return {
    name: (one.getAttribute("aria-label") ?? (one.labels?.[0]?.textContent || one.textContent)).trim(),
    tag: one.tagName,
    inside: one.closest("dialog[open]") !== null,
    ring: getComputedStyle(shown).outlineStyle !== "none",
    seen: hit !== null && (hit === one || shown.contains(hit)),
  };
}"""
"""What is focused: its name, whether a ring is drawn round it, and whether it lies where an eye finds it."""


IS_FOCUSED: Final = """name => {
  const one = document.activeElement;
  return (one.getAttribute("aria-label") ?? one.textContent) === name;
}"""


class Hands:
    """Somebody who has no pointer."""

    def __init__(self, page: "Page") -> None:
        self.page = page

    def at(self) -> dict[str, Any]:
        told: dict[str, Any] = self.page.evaluate(FOCUSED)
        return told

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def reach(self, name: str, key: str = "Tab") -> None:
        """Go on with Tab, or back, until what is focused is called so; all that is passed has to be seen."""
        for _ in range(MOST_STEPS):
            self.press(key)
            at = self.at()
            if at["tag"] not in ("BODY", "HTML"):
                assert at["ring"], f"nothing shows that {at['name']} is focused"
                assert at["seen"], f"{at['name']} is focused where nobody sees it"
            if at["name"].startswith(name):
                return
        raise AssertionError(f"{name} is not reached by {key}")

    def asked(self) -> None:
        """A question stands in front of the page, and the focus is in it."""
        self.page.get_by_role("dialog").wait_for()
        assert self.at()["inside"]

    def left(self, name: str) -> None:
        """The question is gone, and the focus is where it was."""
        self.page.get_by_role("dialog").wait_for(state="detached")
        self.page.wait_for_function(IS_FOCUSED, arg=name)


@pytest.fixture
def seen(serve: Serve, open_page: Open, store: Path) -> Seen:
    """A laptop on the little study."""
    return open_page(serve(store=store).address, width=1280, height=800)


def test_the_hunt_needs_no_pointer(seen: Seen, takes: tuple[Path, Path]) -> None:
    seen.page.on("filechooser", lambda _: None)  # heard from the start, so that no press comes before the ear
    page = seen.go("", "Studies")
    hands = Hands(page)
    hands.reach("Rehearsal amp")
    hands.press("Enter")
    seen.headed("Set now")
    hands.reach("Hold gain")
    hands.press("Enter")
    hands.asked()
    hands.press("Escape")
    hands.left("Hold gain")
    hands.reach("Hand over the take")
    hands.press("Enter")
    seen.headed("Hand over trial 4")
    hands.reach("Device reading")
    page.keyboard.type("6.5")
    hands.reach("Reference")
    with page.expect_file_chooser() as chosen:
        hands.press("Space")
    chosen.value.set_files([str(path) for path in takes])
    hands.reach("Hand over")
    hands.press("Enter")
    seen.headed("Trial 4 is in")
    assert hands.at()["tag"] == "H1"
    hands.press("t")
    seen.headed("Trials")
    hands.press("?")
    seen.headed("Keys")
    hands.reach("Single keys are on")
    hands.press("Space", "Tab", "?")
    assert page.locator("#main h1").inner_text() == "Keys"
    assert seen.ask(f"studies/{NAME}/trials/4")["reading"] == 6.5


def test_a_trial_is_put_right_and_struck_out(seen: Seen) -> None:
    page = seen.go(f"s/{NAME}/trial/1", "Trial 1")
    hands = Hands(page)
    before = seen.ask(f"studies/{NAME}/trials/1")["settings"]
    hands.reach("Put something right")
    hands.press("Enter")
    hands.asked()
    assert hands.at()["name"] == "Reading"
    hands.press("Shift+Tab")
    assert hands.at()["name"] == "Leave it"
    passed = []
    for _ in range(20):
        hands.press("Tab")
        passed.append(hands.at())
    assert all(at["inside"] and at["seen"] and at["ring"] for at in passed)
    assert [at["name"] for at in passed].count("Reading") >= 2
    hands.reach("Reading")
    hands.press("Control+a")
    page.keyboard.type("6.9")
    hands.reach("What was set")
    hands.press("Enter")
    hands.reach("gain down")
    hands.press("Tab", "ArrowRight", "ArrowRight")
    hands.reach(before["stage"])
    hands.press("ArrowRight" if before["stage"] == "open" else "ArrowLeft")
    stage = hands.at()["name"]
    hands.reach("Why")
    page.keyboard.type("misread")
    hands.press("Enter")
    hands.left("Put something right")
    page.locator(".events").get_by_text("misread").wait_for()
    hands.left("Put something right")
    kept = seen.ask(f"studies/{NAME}/trials/1")
    assert kept["reading"] == 6.9
    assert kept["settings"]["stage"] == stage != before["stage"]
    assert kept["settings"]["gain"] > before["gain"]
    assert {name: kept["settings"][name] for name in ("mic", "riffs")} == {
        name: before[name] for name in ("mic", "riffs")
    }

    hands.press("Space")
    hands.asked()
    hands.press("Escape")
    hands.left("Put something right")
    hands.reach("Strike it out")
    hands.press("Enter")
    hands.asked()
    page.keyboard.type("hum")
    hands.press("Enter")
    hands.left("Let it count again")
    assert seen.ask(f"studies/{NAME}/trials/1")["state"] == "void"


def test_the_focus_stays_when_a_change_elsewhere_has_the_page_drawn_anew(seen: Seen, open_page: Open) -> None:
    page = seen.go(f"s/{NAME}/trial/1", "Trial 1")
    page.get_by_text("live", exact=True).wait_for()
    hands = Hands(page)
    other = open_page(seen.address)
    other.go("", "Studies")
    for place, name in enumerate(("What if, from here", "Put something right")):
        hands.reach(name, "Tab" if place == 0 else "Shift+Tab")
        other.page.evaluate(AMEND, [f"api/studies/{NAME}/trials/1", f"note {place}"])
        page.get_by_role("heading", name="Note").wait_for()
        page.locator(".panel").get_by_text(f"note {place}").wait_for()
        hands.left(name)
    hands.press("Enter")
    hands.asked()


AMEND: Final = """([where, note]) => fetch(where, {
  method: "PATCH", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ note }),
})"""


def test_what_if_is_asked_and_made(seen: Seen) -> None:
    page = seen.go(f"s/{NAME}/what-if/1", "What if")
    hands = Hands(page)
    figure = page.locator(".prediction .figure strong")
    figure.wait_for()
    settings = seen.ask(f"studies/{NAME}/trials/1")["settings"]
    hands.reach("gain down")
    hands.press("Tab", "PageDown", "PageDown", "ArrowUp")
    settings["gain"] = float(page.get_by_label("gain", exact=True).input_value())
    hands.reach(settings["stage"])
    hands.press("ArrowLeft")
    settings["stage"] = hands.at()["name"]
    hands.reach("1.")
    first = page.evaluate("document.activeElement.value")
    hands.press("ArrowDown" if first != "two-note" else "ArrowUp")
    riffs = [select.input_value() for select in page.locator(".order-choices select").all()]
    assert sorted(riffs) == sorted(settings["riffs"])
    assert riffs != settings["riffs"]
    settings["riffs"] = riffs
    predicted = page.evaluate(
        "([name, settings]) => fetch(`api/studies/${name}/predict`, {method: 'POST', body: JSON.stringify({settings}),"
        " headers: {'Content-Type': 'application/json'}}).then(answer => answer.json())",
        [NAME, settings],
    )
    seen.expect(figure).to_have_text(f"{predicted['mean']:.0f}")
    hands.reach("gain", "Shift+Tab")
    hands.reach("I make this one")
    hands.press("Enter")
    seen.headed("Hand over a take of your own")
    hands.reach("Device reading")
    page.keyboard.type("6.1")
    hands.press("Enter")
    seen.headed("Trial 5 is in")
    kept = seen.ask(f"studies/{NAME}/trials/5")
    assert kept["settings"] == {**settings, "gain": kept["settings"]["gain"]}
    assert kept["settings"]["gain"] == pytest.approx(settings["gain"])
    assert kept["reading"] == 6.1


def test_a_blind_test_is_taken_from_the_first_try_to_its_result(seen: Seen) -> None:
    page = seen.go(f"s/{NAME}/listen/1", "Compare by ear")
    hands = Hands(page)
    hands.reach("Play")
    hands.press("Space")
    seen.expect(page.locator(".deck output")).to_have_text(re.compile(r"[1-7]\.\d s"))
    hands.press("b")
    assert page.locator("[data-part=capture]").get_attribute("aria-pressed") == "true"
    hands.reach("How many tries")
    hands.press("ArrowUp", "ArrowUp")
    hands.reach("Begin")
    hands.press("Enter")
    for number in range(1, 9):
        page.get_by_role("heading", name=f"Try {number} of 8").wait_for()
        page.wait_for_function("() => document.activeElement.tagName === 'H2'")
        if number == 1:
            hands.press("Space")
            seen.expect(page.locator(".deck .play")).to_have_text("Pause")
            hands.press("a")
            assert page.locator("[data-part=a]").get_attribute("aria-pressed") == "true"
            hands.reach("One second on")
            hands.press("Enter")
        hands.reach("X is the reference" if number % 2 else "X is the capture")
        hands.press("Enter" if number % 2 else "Space")
    page.get_by_role("heading", name="Result").wait_for()
    event = seen.ask(f"studies/{NAME}/export")["events"][-1]
    assert (event["kind"], event["body"]["answers"], event["body"]["finished"]) == ("heard", "abababab", True)
    assert seen.ask(f"studies/{NAME}/trials/1")["heard"]["tries"] == 8
    hands.reach("Back to comparing")
    hands.press("Enter")
    page.wait_for_function("() => document.activeElement.id === 'which'")
