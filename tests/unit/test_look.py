"""The look: palette, templates and macros. Contrast is WCAG 2.2's relative-luminance ratio (success criteria 1.4.3 and
1.4.6; 1.4.11 for lines), computed here from static/css/tokens.css."""

import itertools
import re
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from jinja2 import Environment

from app import plots
from app.templating import template_environment

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
ICONS = sorted((ROOT / "static" / "icons").glob("*.svg"))
TOKENS = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", (ROOT / "static" / "css" / "tokens.css").read_text()))
INKS = [name for name in TOKENS if name == "ink" or name.startswith("ink-")]
GROUNDS = [name for name in TOKENS if name.startswith("ground-")]
VERDICTS = ["conforming", "nonconforming", "inconclusive", ""]


def luminance(colour: str) -> float:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(TOKENS[one]), luminance(TOKENS[other])), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def a_row(cylinder: int = 1, value: Any = "10.42", verdict: str = "conforming", **more: Any) -> dict[str, Any]:
    return {"cylinder": cylinder, "value": value, "expanded_uncertainty": "0.09", "verdict": verdict, **more}


@pytest.fixture(scope="module")
def environment() -> Environment:
    made = template_environment()
    made.globals.update(plots=plots, static=lambda name: f"/static/{name}")
    return made


def drawn(environment: Environment, source: str, **context: Any) -> str:
    imports = {
        "_fields.html": "text_field, number_field, secret_field, area_field, date_field, file_field, choice_field, "
        "select_field, check_field, hidden, error_summary, actions",
        "_plots.html": "interval_strip, row_strip, interval_plot, share_bar",
        "_verdict.html": "verdict_words, verdict_glyph, verdict_tag, verdict_banner, state",
        "_pictures.html": "pictogram, cautions",
    }
    head = "".join(f'{{% from "{name}" import {macros} %}}' for name, macros in imports.items())
    return environment.from_string(head + source).render(context)


class Elements(HTMLParser):
    """Every element with its attributes and its own text, and which elements each svg holds."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.svgs: list[dict[str, str]] = []
        self._inside: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag == "svg":
            self.svgs.append({})
        self._inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in self._inside:
            while self._inside.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        if self._inside and self._inside[-1] in ("title", "desc") and "svg" in self._inside:
            self.svgs[-1][self._inside[-1]] = self.svgs[-1].get(self._inside[-1], "") + data.strip()

    def named(self, name: str) -> dict[str, str | None]:
        return next(attributes for _, attributes in self.found if attributes.get("name") == name)


def test_there_are_inks_grounds_and_templates_to_look_at() -> None:
    assert len(INKS) >= 4
    assert len(GROUNDS) >= 4
    assert len(TEMPLATES) >= 6
    assert len(ICONS) >= 6


@pytest.mark.parametrize(("ink", "ground"), list(itertools.product(INKS, GROUNDS)))
def test_every_ink_stands_seven_to_one_on_every_light_ground(ink: str, ground: str) -> None:
    assert contrast(ink, ground) >= 7.0


@pytest.mark.parametrize("ground", ["ink", "ink-blue", "ink-wine"])
def test_light_words_stand_seven_to_one_on_the_dark_grounds(ground: str) -> None:
    assert contrast("on-dark", ground) >= 7.0


@pytest.mark.parametrize("ground", GROUNDS)
def test_edges_of_fields_stand_three_to_one_on_every_ground(ground: str) -> None:
    assert contrast("line-field", ground) >= 3.0


def test_colours_outside_the_tokens_are_only_those_of_the_tokens() -> None:
    """Pictures name their colours in full, for print; each must be a token's, so that the ratios above hold there."""
    places = [*TEMPLATES, *ICONS, *(path for path in (ROOT / "static" / "css").glob("*.css") if path.stem != "tokens")]
    strays = {
        f"{path.name}: {colour}"
        for path in places
        if "slips" not in path.parts  # printed slips are set in their own sheet
        for colour in re.findall(r"#[0-9a-fA-F]{6}\b", path.read_text())
        if colour.lower() not in TOKENS.values()
    }
    assert strays == set()


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_templates_carry_no_style_of_their_own(path: Path) -> None:
    text = path.read_text()
    if path.parent.name != "slips":  # a slip is set for print by itself and never sent as a page
        assert not re.search(r"<style\b", text)
        assert not re.search(r"<script(?![^>]*\bsrc=)[^>]*>", text)
    assert not re.search(r"\sstyle\s*=", text)
    assert not re.search(r"\son[a-z]+\s*=\s*[\"']", text)


@pytest.mark.parametrize("path", [*TEMPLATES, *ICONS], ids=lambda path: str(path.relative_to(ROOT)))
def test_every_svg_says_what_it_shows(path: Path) -> None:
    text = path.read_text()
    pictures = re.findall(r"<svg\b.*?</svg>", text, re.DOTALL)
    assert len(pictures) == text.count("<svg")
    for picture in pictures:
        assert re.search(r"<title>.+?</title>", picture, re.DOTALL)
        if path.parent.name != "slips":  # in print the title is the alternative text and the figures stand beside it
            assert re.search(r"<desc>.+?</desc>", picture, re.DOTALL)


@pytest.mark.parametrize("kind", ["maximum", "minimum"])
@pytest.mark.parametrize("verdict", VERDICTS)
def test_a_verdict_is_drawn_and_said_in_whole_sentences(environment: Environment, verdict: str, kind: str) -> None:
    page = drawn(
        environment,
        """{{ verdict_banner(verdict, kind, "10.42", "0.09", "limit 10.60", "A sentence.", "Measure again.") }}
        {{ verdict_glyph(verdict, kind) }}{{ verdict_tag(verdict, kind) }}
        {{ interval_plot([row], none, rule) }}{{ row_strip(row, plots.strip_axis([row], rule), rule) }}
        {{ share_bar("12.5", "Resolution: 12.5 percent") }}{{ state("closed", "stop") }}""",
        verdict=verdict,
        kind=kind,
        row=a_row(verdict=verdict),
        rule={"kind": kind, "limit": "10.50", "tolerance": "0.10"},
    )
    elements = Elements(page)
    assert len(elements.svgs) == 8
    for svg in elements.svgs:
        assert svg["title"]
        assert svg["desc"].endswith(".")
    assert page.count(plots.VERDICT_WORDS[verdict]) >= 3


def test_shapes_of_the_verdicts_differ_without_colour(environment: Environment) -> None:
    shapes = set()
    for verdict, kind in itertools.product(VERDICTS, ("maximum", "minimum")):
        picture = drawn(environment, "{{ verdict_glyph(verdict, kind) }}", verdict=verdict, kind=kind)
        bare = re.sub(r"<title>.*</desc>|#[0-9a-f]{6}|ink-\w+", "", picture, flags=re.DOTALL)
        shapes.add(bare)
    assert len(shapes) == 8


def test_a_field_shows_its_sentence_and_keeps_what_was_typed(environment: Environment) -> None:
    sentence = "“10,5a” is not a number. Use digits and one point."
    refused = SimpleNamespace(message="One answer needs another look", errors={"limit": sentence})
    page = drawn(
        environment,
        """{{ error_summary(invalid) }}{{ number_field("limit", "Limit", "10.50", "A hint.", form, invalid,
        unit="ratio") }}{{ text_field("clause", "Clause", "5.4", "", form, invalid) }}""",
        invalid=refused,
        form={"limit": "10,5a"},
    )
    elements = Elements(page)
    limit, clause = elements.named("limit"), elements.named("clause")
    assert limit["value"] == "10,5a"
    assert limit["aria-invalid"] == "true"
    assert limit["aria-describedby"] == "f-limit-hint f-limit-error"
    assert limit["inputmode"] == "decimal"
    assert page.count(sentence) == 2
    assert 'href="#f-limit"' in page
    assert clause["value"] == "5.4"
    assert "aria-invalid" not in clause
    assert any(attributes.get("id") == "f-clause-error" for _, attributes in elements.found), "its line is kept free"


def test_what_was_typed_is_never_read_as_markup(environment: Environment) -> None:
    page = drawn(environment, '{{ text_field("a", "A", form=form) }}', form={"a": '"><script>alert(1)</script>'})
    assert "<script" not in page
    assert Elements(page).named("a")["value"] == '"><script>alert(1)</script>'


def test_a_secret_is_never_sent_back(environment: Environment) -> None:
    page = drawn(environment, '{{ secret_field("pin", "PIN", form=form) }}', form={"pin": "135790"})
    assert "135790" not in page
    assert Elements(page).named("pin")["type"] == "password"


def test_choices_keep_the_one_chosen_and_give_the_summary_a_place_to_go(environment: Environment) -> None:
    page = drawn(
        environment,
        """{{ choice_field("rule", "Rule", [("a", "First", "note"), ("b", "Second")], "a", "", {"rule": "b"}) }}
        {{ select_field("klass", "Class", [(1, "One"), (2, "Two")], 2) }}
        {{ check_field("sure", "Sure", form={"sure": "yes"}) }}
        {{ check_field("other", "Other", form={"sure": "yes"}) }}""",
    )
    elements = Elements(page)
    chosen = [attributes["value"] for tag, attributes in elements.found if tag == "input" and "checked" in attributes]
    assert chosen == ["b", "yes"]
    assert [attributes["value"] for _, attributes in elements.found if "selected" in attributes] == ["2"]
    assert any(attributes.get("id") == "f-rule" for _, attributes in elements.found)


def test_the_remaining_fields_carry_label_and_name(environment: Environment) -> None:
    page = drawn(
        environment,
        """{{ area_field("words", "Words", "a text") }}{{ date_field("day", "Day", "2026-05-02") }}
        {{ file_field("file", "File", accept=".csv") }}{{ hidden("id", "x1") }}
        {{ actions("Save", "/back", "Back") }}{{ cautions() }}{{ pictogram("hot", "Hot parts") }}""",
    )
    elements = Elements(page)
    labels = {attributes["for"] for tag, attributes in elements.found if tag == "label"}
    assert labels == {"f-words", "f-day", "f-file"}
    assert elements.named("day")["value"] == "2026-05-02"
    assert elements.named("id")["type"] == "hidden"
    assert page.count('class="caution"') == 5


def test_pictures_of_the_cautions_exist(environment: Environment) -> None:
    sources = re.findall(r'src="/static/([^"]+)"', drawn(environment, "{{ cautions() }}"))
    assert len(sources) == 5
    assert all((ROOT / "static" / source).is_file() for source in sources)


def test_the_error_page_speaks_and_shows_no_trace(environment: Environment) -> None:
    page = environment.get_template("errors/error.html").render(
        me=None,
        nav=[],
        invalid=None,
        form={},
        notice=None,
        code=500,
        incident="1a2b3c4d",
        problem_errors={},
        message="Something went wrong in the logbook itself.",
    )
    assert "1a2b3c4d" in page
    assert "Something went wrong in the logbook itself." in page
    assert "Traceback" not in page


def test_the_scaffold_links_only_files_that_exist(environment: Environment) -> None:
    me = SimpleNamespace(full_name="Ida Brandvold", roles=["inspector"], units="metric", pad_side="left")
    nav = [SimpleNamespace(href="/a", label="Waiting list", current=True)]
    page = environment.get_template("base.html").render(me=me, nav=nav, invalid=None, form={}, notice="Saved.")
    sources = re.findall(r'(?:href|src)="/static/([^"]+)"', page)
    assert len(sources) >= 7
    assert [source for source in sources if not (ROOT / "static" / source).is_file()] == []
    assert 'action="/sign-out"' in page
    assert "pad-left" in page
    assert "Saved." in page
