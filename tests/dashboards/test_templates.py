"""Pages: each template uses its view's fields, all of them and nothing else, and stays readable HTML."""

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from html.parser import HTMLParser
from typing import get_args, get_type_hints

import pytest
from jinja2 import nodes

from dashboards import links
from dashboards.assets import STATIC, read
from dashboards.frame import Frame
from dashboards.render import TEMPLATES, environment, render
from dashboards.rows import Counts
from models.findings import SeriesReading
from tests.dashboards import samples

PAGES = samples.pages()
SHARED = ("page.html", "pieces.html", "setup/parts.html")


def tree(name: str) -> nodes.Template:
    """Read a template's syntax tree."""
    loader = environment().loader
    assert loader is not None
    return environment().parse(loader.get_source(environment(), name)[0])


def attributes(name: str, of: str) -> set[str]:
    """Find what a template reads of one name."""
    return {
        node.attr
        for node in tree(name).find_all(nodes.Getattr)
        if isinstance(node.node, nodes.Name) and node.node.name == of
    }


def nested(kind: type) -> Iterator[type]:
    """Walk through the dataclasses that a dataclass is made of."""
    for hint in get_type_hints(kind).values():
        waiting = [hint]
        while waiting:
            one = waiting.pop()
            waiting.extend(get_args(one))
            if isinstance(one, type) and is_dataclass(one):
                yield one
                yield from nested(one)


@pytest.mark.parametrize("view", TEMPLATES, ids=lambda view: view.__name__)
def test_template_reads_exactly_the_views_fields(view: type) -> None:
    """Every field of a view is read by its template, and the template reads nothing else of it."""
    assert attributes(TEMPLATES[view], "view") == {one.name for one in fields(view)}


def test_templates_read_exactly_the_frames_fields() -> None:
    """Every field of the frame is read somewhere, and nothing else of it."""
    used = set().union(*(attributes(name, "frame") for name in (*SHARED, *TEMPLATES.values())))

    assert used == {one.name for one in fields(Frame)}


AWAY = samples.away()
"""The one page whose link leads elsewhere: to the sign-in provider."""

READ_BY_CODE = {
    "Chart": {"smoothed", "axis", "level", "have", "need"},
    "FleetMap": set[str](),
}
"""Fields that a picture or sentence reads instead of a template."""


@pytest.mark.parametrize("view", TEMPLATES, ids=lambda view: view.__name__)
def test_fields_of_rows_are_shown(view: type) -> None:
    """Every field of every row inside a view is read by a template."""
    used = {
        node.attr for name in (*SHARED, *TEMPLATES.values()) for node in tree(name).find_all(nodes.Getattr)
    }
    quoted = {
        node.value
        for name in TEMPLATES.values()
        for node in tree(name).find_all(nodes.Const)
        if isinstance(node.value, str)
    }
    for kind in set(nested(view)) - {SeriesReading}:
        unread = {one.name for one in fields(kind)} - used - quoted
        assert unread <= READ_BY_CODE.get(kind.__name__, set()), kind.__name__


@pytest.mark.parametrize("view", [*TEMPLATES, Frame], ids=lambda view: view.__name__)
def test_every_field_has_help(view: type) -> None:
    """Every field of every view and row says in words what it is."""
    for kind in {view, *nested(view)} - {SeriesReading}:
        for name, hint in get_type_hints(kind, include_extras=True).items():
            assert any(isinstance(text, str) and text for text in getattr(hint, "__metadata__", ())), (
                kind.__name__,
                name,
            )


class Reader(HTMLParser):
    """Collects what a page is made of."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep a tag, and see that it nests."""
        self.tags.append((tag, dict(attrs)))
        if tag not in {"meta", "link", "input", "img", "br", "path", "rect", "circle"}:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep a tag that closes itself."""
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """See that what closes was open."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Keep words."""
        self.words.append(data)


def page(name: str) -> tuple[str, Reader]:
    """Render a sample page and read it."""
    view, title = PAGES[name]
    text = render(view, samples.frame(title))
    reader = Reader()
    reader.feed(text)
    return text, reader


@pytest.mark.parametrize("name", PAGES)
def test_page_is_sound(name: str) -> None:
    """A page nests its tags, names its language, has one h1, a skip link, and unique ids."""
    _, reader = page(name)
    ids = [attributes["id"] for _, attributes in reader.tags if "id" in attributes]

    assert reader.open == []
    assert ("html", {"lang": "en"}) in reader.tags
    assert [tag for tag, _ in reader.tags].count("h1") == 1
    assert any(attributes.get("href") == "#content" for tag, attributes in reader.tags if tag == "a")
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("name", PAGES)
def test_page_needs_no_inline_script_or_style(name: str) -> None:
    """A strict content policy holds: no inline script, style or handler, nothing from elsewhere."""
    _, reader = page(name)

    for tag, attributes in reader.tags:
        assert "style" not in attributes
        assert not any(key.startswith("on") for key in attributes)
        assert tag != "style"
        if tag == "script" and attributes.get("type") != "application/json":
            assert (attributes["src"] or "").startswith("/static/")
        for key in ("src", "href", "action"):
            there = attributes.get(key) or "/"
            assert there.startswith(("/", "#")) or (name == "away" and there == AWAY.address)


@pytest.mark.parametrize("name", PAGES)
def test_tables_and_fields_are_labelled(name: str) -> None:
    """Every table has a caption and headers; every field to fill in has a label."""
    _, reader = page(name)
    tags = [tag for tag, _ in reader.tags]
    labels = {attributes.get("for") for tag, attributes in reader.tags if tag == "label"}

    assert tags.count("table") == tags.count("caption")
    assert tags.count("table") <= sum(
        1 for tag, attributes in reader.tags if attributes.get("scope") == "col"
    )
    for tag, attributes in reader.tags:
        if tag in ("select", "textarea") or (
            tag == "input" and attributes.get("type") not in ("hidden", "radio", "checkbox")
        ):
            assert attributes.get("id") in labels


@pytest.mark.parametrize("name", PAGES)
def test_posted_forms_carry_the_token(name: str) -> None:
    """Every form that changes something sends the form token back."""
    text, _ = page(name)

    assert text.count('method="post"') == text.count('name="token" value="token-1"')


def test_text_from_outside_is_escaped() -> None:
    """A vehicle number that looks like markup is shown as text, in pages, pictures and data blocks."""
    evil = '<script>alert("1")</script>'
    chart = replace(samples.chart(), vehicle=evil, sheet=evil, source=evil)
    view = replace(samples.vehicle(), vehicle=evil, notes=evil, charts=(chart,))

    text = render(view, samples.frame(evil))

    assert "<script>alert" not in text


def test_words_stand_with_their_shapes() -> None:
    """A standing is never told by colour alone: shape and word go with it."""
    text, _ = page("vehicles")

    for shape, word in (("▲", "Pull in now"), ("?", "Cannot say")):
        assert f'<span aria-hidden="true">{shape}</span>{word}</span>' in text


def test_cautions_come_before_the_checks_and_are_never_folded() -> None:
    """Cautions stand above the steps, in the open, on the ticket and on paper."""
    for name in ("ticket", "sheet"):
        text, _ = page(name)
        before = text[: text.index("Chock the wheels")]

        assert text.index("Chock the wheels") < text.index("Look at throttle bore")
        assert before.count("<details") == before.count("</details>")


def test_ticket_keeps_its_order() -> None:
    """The ticket reads: sentence, picture, checks, history, detail."""
    text, _ = page("ticket")

    marks = ['class="lead"', "<svg", 'id="checks"', 'id="history"', 'id="detail"']
    places = [text.index(mark) for mark in marks]
    assert places == sorted(places)


def test_finding_is_recorded_without_typing() -> None:
    """Cause and correction are chosen, correction is filled in before, nothing must be typed."""
    text, reader = page("ticket")
    record = text[text.index('id="record"') : text.index('id="do"')]

    assert 'value="usual" checked' in record
    assert 'value="comes_and_goes"' in record
    typed = [attributes for tag, attributes in reader.tags if tag == "textarea"]
    assert all("required" not in attributes for attributes in typed)


def test_first_class_deferral_asks_twice() -> None:
    """An action that needs a second confirmation cannot be sent without it."""
    text, _ = page("ticket")

    assert 'name="confirmed" value="yes" required' in text


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({}, "Nothing changed since last week."),
        ({"first_week": True}, "This is the first week"),
        ({"changes": None}, "What changed is worked out when the week closes."),
        ({}, "No ticket is past due."),
        ({}, "No cost table is loaded"),
        ({}, "No vehicle needs pulling in. 389 of 412 judged."),
    ],
)
def test_an_empty_week_says_so(changes: dict[str, object], sentence: str) -> None:
    """Empty states are sentences, never blank tables or a tick."""
    view = replace(samples.empty_week(), **changes)  # type: ignore[arg-type]

    assert sentence in render(view, samples.frame("Week"))


def test_week_before_any_vehicle_shows_how_to_begin() -> None:
    """A week without a vehicle in service says so and shows three steps."""
    none = Counts(in_service=0, pull_in_now=0, plan_this_week=0, watch=0, steady=0, cannot_say=0)

    text = render(replace(samples.empty_week(), counts=none), samples.frame("Week"))

    assert "No vehicle is in service yet." in text
    assert "Three steps to a first reading" in text


def test_age_of_the_data_is_said_where_it_is_known() -> None:
    """The page says how old data and evaluation are; what it does not know it does not make up."""
    frame = samples.frame("Help")
    view = PAGES["help"][0]

    assert "Data up to 8 Sep 2031 02:00, assessed 8 Sep 2031 02:10 (Europe/Oslo)." in render(view, frame)
    assert "Data up to 8 Sep 2031 02:00, not assessed yet" in render(view, replace(frame, assessed_at=None))
    assert "Assessed 8 Sep" in render(view, replace(frame, data_up_to=None))
    assert "ssessed" not in render(view, replace(frame, data_up_to=None, assessed_at=None))


def test_late_readings_offer_both_ways_to_read() -> None:
    """A closed week with late readings can be read as closed and as known now."""
    text, _ = page("week")

    assert "14 readings arrived after this week closed." in text
    assert links.week_url("2031-W37", "as_known_now") in text


def test_vehicle_without_sheet_says_so_and_shows_no_limit() -> None:
    """Without a sheet the page says what it compares with, and the word limit stands nowhere as a number."""
    view = replace(
        samples.vehicle(), sheet="", sheet_known=False, revision=None, source="",
        charts=(samples.charts()[3],),
    )  # fmt: skip

    text = render(view, samples.frame("V-0017"))

    assert "No spec sheet: compared with its own history and like vehicles only." in text
    assert "on sheet" not in text


def test_no_vehicles_yet_shows_three_steps() -> None:
    """The first day shows how to begin, and offers the practice fleet."""
    text = render(replace(samples.vehicles(), registered=0, rows=(), total=0), samples.frame("Vehicles"))

    assert "Three steps to a first reading" in text
    assert "forelamp demo" in text


def test_work_list_is_light() -> None:
    """The work list stays far under 150 KB with its stylesheet and script, for poor signal."""
    text, _ = page("work")

    assert len(text.encode()) + len(read("forelamp.css")) + len(read("forelamp.js")) < 60_000


def test_every_file_that_pages_ask_for_exists() -> None:
    """Each file under /static/ that a page names can be read, with the mark of its contents."""
    named = {
        value.split("?")[0].removeprefix("/static/")
        for name in PAGES
        for _, attributes in page(name)[1].tags
        for value in attributes.values()
        if value and value.startswith("/static/")
    }

    assert named == set(STATIC)
    assert all(read(name) for name in named)


def test_us_units_reach_every_number() -> None:
    """A reader of US units sees degrees Fahrenheit, and a gap of 15 degC as a gap of 27 degF."""
    chart = replace(samples.charts()[2], baseline=15.0, level=15.0)
    view = replace(samples.vehicle(), charts=(chart,))

    text = render(view, samples.frame("V-0017", units="us"))

    assert "27.0 °F" in text
    assert "59.0 °F" not in text
    assert "31\u202f889 mi" in text


def test_only_known_files_are_given() -> None:
    """A name that is not a page's file is refused."""
    with pytest.raises(KeyError):
        read("../palette.py")


def test_job_sheet_offers_the_likeliest_causes() -> None:
    """On paper the likeliest causes can be ticked, and room is left to write."""
    text, _ = page("sheet")

    assert text.count('class="box"') > 6
    assert "deposits in the throttle bore" in text


def test_ticket_raised_by_hand_says_what_it_lacks() -> None:
    """A ticket without series, checks or history is still a page of sentences."""
    bare = replace(
        samples.ticket(), chart=None, other_charts=(), checks=(), series=(), history=(), causes=(), rank=(),
        versions=None, track_record=None, proof=None, links=(), actions=(),
        may_record=False, record_causes=(), undo=None,
        probability_30d=None, probability_crossing=None, probability_fault=None, due_by=None, booked_on=None,
    )  # fmt: skip

    text = render(bare, samples.frame("Ticket"))

    for words in (
        "there is no series to show",
        "No checks are listed",
        "no due date",
        "No ticket like this one",
    ):
        assert words in text
    assert "What did you find?" not in text


def test_a_long_list_to_pull_in_is_folded() -> None:
    """Of a large fleet's list the most urgent stand open, the rest are one click away, each once."""
    lines = tuple(samples.line(f"V-{number:04d}") for number in range(45))
    text = render(replace(samples.week(), pull_in=lines), samples.frame("Week"))

    folded = text.index("5 more tickets")
    assert [text.count(f"/work/V-{number:04d}-T2") for number in range(45)] == [1] * 45
    assert text.index("/work/V-0039-T2") < folded < text.index("/work/V-0040-T2")
