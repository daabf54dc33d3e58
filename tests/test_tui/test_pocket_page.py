"""The pocket page of a plan: well formed, complete, of one file; and as a browser shows and prints it."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, Final

import pytest

Run = Callable[..., Any]
NAME: Final = "hill </title><script>alert(1)</script> & \"mine\" 'x'"
STATION: Final = f"""
name = {NAME!r}
[site]
locator = "KG40"
[rig]
power_w = 100
mode = "CW"
[antenna]
kind = "dipole"
height_m = 10
[limits]
bands = ["40m", "20m", "15m", "10m"]
""".replace(repr(NAME), '"' + NAME.replace('"', '\\"') + '"')
WHEN: Final = ("--start", "2026-03-20T06:00Z", "--hours", "24", "--ssn", "120", "--kp", "2")
LONG_NAME: Final = (
    "Ridge above the old customs post on the upper pass, second saddle east of the beacon, portable"
)
CHANGING: Final = f"""
name = "{LONG_NAME}"
[site]
locator = "KG40rs"
[rig]
power_w = 5
mode = "CW"
[antenna]
kind = "loaded vertical"
[band_change]
retune_min = 0
coil_min = 0
whip_min = 0
capacitor_min = 0
[limits]
bands = ["80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m"]
"""
VOID: Final = {"meta", "path", "polygon", "br", "img", "link"}
LOADING: Final = {"src", "href", "srcset", "action", "data", "poster", "background", "xlink:href"}
BROWSER: Final = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), "")
PHONE_PX: Final = 390
A5_MM: Final = (148.0, 210.0)  # ISO 216
MM: Final = 25.4 / 72.0  # of a point


class Strict(HTMLParser):
    """Elements, text and attributes; every element must be closed where it was opened."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[str] = []
        self.words: list[str] = []
        self.given: list[tuple[str, str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.given += [(tag, key, value) for key, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in VOID
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)


def read(page: str) -> Strict:
    """Parse a page; it must be well formed."""
    parser = Strict()
    parser.feed(page)
    parser.close()
    assert parser.open == []
    return parser


@pytest.fixture
def written(bandwhen: Run, tmp_path: Path) -> tuple[Path, Any]:
    """A page of a place over a whole day, and the answer of the command."""
    station, file = tmp_path / "station.toml", tmp_path / "plan.html"
    station.write_text(STATION, encoding="utf-8")
    answer = bandwhen("plan", "--station", str(station), "--to", "JO40", *WHEN, "--page", str(file), "--json")
    assert answer.code == 0, answer.err
    assert str(file) in answer.err
    return file, answer.json


def test_all_of_the_plan_is_in_one_well_formed_file(written: tuple[Path, Any]) -> None:
    file, plan = written
    assert file.stat().st_mode & 0o077 == 0
    page = file.read_text(encoding="utf-8")
    found = read(page)
    words = " ".join(" ".join(found.words).split())
    assert NAME in words
    assert len(plan["steps"]) > 1
    for step in plan["steps"]:
        begin, end = (int(step[key][11:13]) for key in ("start", "end"))
        assert f"{step['start'][11:16]} to " in words
        assert f"{(begin + 2) % 24:02d}:{step['start'][14:16]} to " in words  # the zone of KG40 is UTC+2
        assert f"{(end + 2) % 24:02d}:{step['end'][14:16]} local" in words
        assert step["band"].replace("m", " m") in words
        assert step["setup"] in words
    for card in plan["settings"]:
        assert card["setup"][1:] in words
    for caution in plan["cautions"]:
        assert caution in words
    assert found.tags.count("polygon") >= 2 * len(plan["steps"])
    assert sum(value == "row blank" for _, _, value in found.given) >= 10


def test_the_page_needs_nothing_else_and_runs_nothing(written: tuple[Path, Any]) -> None:
    page = written[0].read_text(encoding="utf-8")
    found = read(page)
    assert not {"script", "link", "img", "iframe", "object", "embed", "base"} & set(found.tags)
    assert not [row for row in found.given if row[1] in LOADING or row[1].startswith("on")]
    assert not re.search(r"url\(|@import|@font-face", page)
    assert re.findall(r"https?://[^\"]*", page) == ["http://www.w3.org/2000/svg"]  # the name of the format
    assert "default-src 'none'" in page


def test_a_page_replaces_a_page_and_nothing_else(bandwhen: Run, tmp_path: Path) -> None:
    file = tmp_path / "plan.html"
    asked = ("plan", "--to", "JO40", *WHEN, "--page", str(file))
    file.write_text("<p>a letter</p>", encoding="utf-8")
    refused = bandwhen(*asked)
    assert refused.code == 2
    assert "--force" in refused.err
    assert file.read_text(encoding="utf-8") == "<p>a letter</p>"
    assert bandwhen(*asked, "--force").code == 0
    assert bandwhen(*asked).code == 0
    read(file.read_text(encoding="utf-8"))


def browse(folder: Path, page: Path, *options: str) -> str:
    """Open a file in the browser without a window; return what it writes."""
    made = subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
         f"--user-data-dir={folder / 'profile'}", *options, page.as_uri()],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip
    return made.stdout


@pytest.mark.slow
@pytest.mark.skipif(not BROWSER, reason="no Chromium is installed to open the page in")
def test_a_browser_shows_it_on_a_telephone_and_prints_it_on_one_sheet(
    written: tuple[Path, Any], bandwhen: Run, tmp_path: Path
) -> None:
    demo = tmp_path / "demo.html"
    assert bandwhen("plan", "--to", "anyone", *WHEN, "--page", str(demo)).code == 0
    europe, station = tmp_path / "europe.html", tmp_path / "changing.toml"
    station.write_text(CHANGING, encoding="utf-8")
    four = ("plan", "--start", "2026-03-20T12:20Z", "--hours", "4")
    assert bandwhen(*four, "--to", "Europe", "--page", str(europe)).code == 0
    changing = tmp_path / "changing.html"
    night = ("--start", "2026-03-20T03:00Z", *WHEN[2:], "--stay", "5")
    asked = ("plan", "--station", str(station), "--to", "GF25", *night)
    plan = bandwhen(*asked, "--page", str(changing), "--json").json
    assert len(plan["steps"]) >= 6  # five changes
    for file in (written[0], demo, europe, changing):
        _on_a_telephone(tmp_path, file)
        sheet = tmp_path / "sheet.pdf"
        browse(tmp_path, file, "--no-pdf-header-footer", f"--print-to-pdf={sheet}")
        pdf = sheet.read_bytes()
        assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
        box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pdf)
        assert box is not None
        # the browser rounds the sheet to its pixels of 0.26 mm
        assert [float(side) * MM for side in box.groups()] == pytest.approx(A5_MM, abs=0.3)


def _on_a_telephone(folder: Path, file: Path) -> None:
    """At a telephone's width nothing must be wider than the screen, and the type must be large."""
    frame = folder / "frame.html"
    measure = (
        "const d = frame.contentDocument, s = e => parseFloat(getComputedStyle(e).fontSize);"
        "const own = [...d.body.querySelectorAll('*')].filter(e => e.tagName != 'title' &&"
        " [...e.childNodes].some(n => n.nodeType == 3 && n.data.trim()));"
        "const v = d.querySelector('svg'), wide = v.getBoundingClientRect().width;"
        "const drawn = e => s(e) * (e.closest('svg') ? wide / v.viewBox.baseVal.width : 1);"
        "document.title = [d.documentElement.scrollWidth, s(d.body), s(d.querySelector('.when b')),"
        "wide, Math.min(...own.map(drawn))].join(' ')"
    )
    page = file.read_text(encoding="utf-8").replace('"', "&quot;")
    frame.write_text(
        f'<title></title><iframe id="frame" width="{PHONE_PX}" height="800" style="border:0" '
        f'srcdoc="{page}" onload="{measure}"></iframe>',
        encoding="utf-8",
    )
    title = re.search(r"<title>([^<]+)</title>", browse(folder, frame, "--dump-dom"))
    assert title is not None
    wide_px, text_px, clock_px, picture_px, least_px = (float(one) for one in title[1].split())
    assert wide_px <= PHONE_PX
    assert min(text_px, least_px) >= 16.0  # what telephones hold to be readable without a zoom
    assert clock_px >= 24.0
    assert 300.0 < picture_px <= PHONE_PX


def test_every_colour_is_readable_in_the_sun(written: tuple[Path, Any]) -> None:
    """Text is black on white; of what is drawn besides, neighbours differ by 3 to 1 (WCAG 2)."""

    def luminance(colour: str) -> float:
        full = colour.lstrip("#")
        full = full if len(full) == 6 else "".join(2 * sign for sign in full)
        parts = [int(full[at : at + 2], 16) / 255.0 for at in (0, 2, 4)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    page = written[0].read_text(encoding="utf-8")
    colours = set(re.findall(r"#(?:[0-9a-f]{6}|[0-9a-f]{3})\b", page))
    assert {"#000", "#fff"} <= colours
    for colour in colours - {"#fff"}:
        assert 1.05 / (luminance(colour) + 0.05) >= 3.0, colour
    fills = set(re.findall(r'fill="(#[0-9a-f]+)"', page))
    assert len(fills) == 2  # in use, and not
    light, dark = sorted(map(luminance, fills), reverse=True)
    assert (light + 0.05) / (dark + 0.05) >= 3.0


def test_both_clocks_stand_on_every_step_and_on_the_axis(written: tuple[Path, Any]) -> None:
    page = written[0].read_text(encoding="utf-8")
    steps = re.findall(r'<li class="step">.*?</li>', page)
    assert steps
    assert all(re.search(r"UTC</b><span class=\"other\">[^<]* local</span>", step) for step in steps)
    assert ">UTC</text>" in page
    assert ">local</text>" in page
