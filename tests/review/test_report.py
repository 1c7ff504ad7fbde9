"""The page that a practitioner opens, reads on a phone, prints and passes on."""

import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from optimiser.review import CAUTIONS, Standing, View, build_report
from optimiser.study import StudyState, load_sheet

VOID = {"meta", "br", "link", "img", "hr", "input"}
NASTY = '"><script>alert(1)</script>'


class Reader(HTMLParser):
    """Collects elements and text, and whether what was opened is closed in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1:] == [tag], f"</{tag}> closes {self.open[-1:]}"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    return reader


@pytest.fixture(scope="module")
def page(state: StudyState, standing: Standing, views: dict[str, View]) -> str:
    return build_report(state, "Friday, 6 March 2026", standing=standing, views=views)


@pytest.fixture(scope="module")
def text(page: str) -> str:
    return " ".join(" ".join(read(page).words).split())


def test_the_page_is_whole_and_needs_nothing_from_outside(page: str) -> None:
    reader = read(page)
    assert reader.open == []
    tags = {tag for tag, _ in reader.tags}
    assert not tags & {"script", "link", "iframe", "object", "embed"}
    for _, attributes in reader.tags:
        for name in ("src", "href", "xlink:href"):
            assert (attributes.get(name) or "#").startswith(("#", "data:"))
    assert "@import" not in page
    assert not re.search(r"url\((?!#)", page)


def test_it_says_first_where_the_study_stands(text: str, standing: Standing) -> None:
    assert standing.best is not None
    assert standing.outlook is not None
    start = text[: text.index("Recommended")]
    assert f"Trial {standing.best.number} is best so far" in start
    assert "14 measured trials on 3 days" in start
    assert f"Advice: {standing.outlook.advice}." in start


def test_it_says_how_far_to_trust_it_and_names_a_doubtful_trial(state: StudyState, standing: Standing) -> None:
    assert standing.outlook is not None
    told = replace(standing.outlook, covered=13, checked=15, doubted=(7,))
    text = " ".join(read(build_report(state, "Friday", standing=replace(standing, outlook=told))).words)
    assert "13 of 15 trials lie inside the 90 % interval" in text
    assert "trial 7 fits none of the others" in text
    plain = replace(standing.outlook, covered=0, checked=0, doubted=())
    text = " ".join(read(build_report(state, "Friday", standing=replace(standing, outlook=plain))).words)
    assert "Checked:" not in text
    assert "Doubtful:" not in text


def test_recommended_settings_as_people_say_them(text: str, standing: Standing, state: StudyState) -> None:
    assert standing.recommendation is not None
    shown = state.study.sheet.space.show(standing.recommendation.settings)
    assert re.fullmatch(r"\d{1,2}:\d\d", shown["gain"])
    assert all(f"{name} {value}" in text for name, value in shown.items())
    assert f"Expected score {standing.recommendation.expected:.1f} ±" in text


def test_every_trial_has_a_row_with_its_state(page: str, state: StudyState) -> None:
    rows = re.findall(r'<tr class="(\w+)"><th scope="row" data-label="trial">(\d+)</th>(.*?)</tr>', page)
    assert [int(number) for _, number, _ in rows] == [trial.number for trial in state.study.trials]
    by_number = {int(number): (kind, cells) for kind, number, cells in rows}
    for number, word in ((3, "failed"), (5, "struck out"), (17, "waiting"), (18, "put aside")):
        assert by_number[number][0] == "out"
        assert f"<span>{word}, " in by_number[number][1]
    assert [kind for kind, _, _ in rows].count("best") == 1


def test_what_changed_since_the_trial_before_leaves_out_trials_that_were_not_made(page: str, state: StudyState) -> None:
    space = state.study.sheet.space
    cell = re.search(r'data-label="trial">6</th>.*?data-label="changed"><span>(.*?)</span>', page)
    assert cell is not None
    before, after = (space.show(dict(state.study.trial(number).settings)) for number in (4, 6))
    told = {name for name in after if f"{name} " in cell[1]}
    assert told == {name for name in after if before[name] != after[name]}


def test_cautions_limits_and_the_missing_listening_panel_are_stated(text: str) -> None:
    assert all(caution in text for caution in CAUTIONS)
    assert "No listening panel stands behind the match score" in text


def test_advice_of_the_best_takes(text: str, standing: Standing) -> None:
    assert standing.best is not None
    assert f"Trial {standing.best.number}: The capture is duller than the amp" in text


def test_every_figure_has_its_table(page: str, views: dict[str, View]) -> None:
    assert page.count("<figure>") == page.count("<details>") == len(views)


def test_dark_paper_and_phone_are_provided_for(page: str) -> None:
    assert "prefers-color-scheme:dark" in page
    assert "@media print" in page
    assert 'content="width=device-width, initial-scale=1"' in page


def test_what_people_typed_is_text_and_never_markup(hunts: Callable[..., Standing]) -> None:
    sheet = (
        f"[study]\nname = 'n'\ntitle = '{NASTY}'\n[settings.cabinet]\nkind = 'choice'\n"
        f"options = ['{NASTY}', 'plain']\n[fixed]\npreamp = '{NASTY}'\n"
    )
    standing = hunts(sheet, lambda settings: float(len(str(settings["cabinet"]))))
    page = build_report(standing.state, NASTY, standing=standing)
    reader = read(page)
    assert reader.open == []
    assert "script" not in {tag for tag, _ in reader.tags}
    assert NASTY in " ".join(reader.words)


def test_ids_on_the_page_are_there_once(page: str) -> None:
    ids = [attributes["id"] for _, attributes in read(page).tags if "id" in attributes]
    assert len(ids) == len(set(ids))


def test_a_study_without_trials_has_a_report() -> None:
    sheet = load_sheet(
        '[study]\nname = "empty"\n[settings.gain]\nkind = "knob"\nscale = "clock"\nlow = "8:00"\nhigh = "15:00"\n'
    )
    words = " ".join(read(build_report(StudyState(sheet))).words)
    assert "0 measured trials; no score yet." in words
    assert "Nothing yet: make the first trials." in words
