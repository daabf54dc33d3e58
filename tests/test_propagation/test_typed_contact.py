"""One typed line: its parts in any order, and what is refused rather than guessed."""

from __future__ import annotations

import re
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.base.errors import InputError
from propagation.logbook import adif, journal
from propagation.logbook.typed_contact import Typed, understood
from propagation.wording.outing import doubt_words

DAY = np.datetime64("2026-03-20T00:00:00", "s")


def moment(text: str) -> np.datetime64:
    figures = text.split()[0].lower().rstrip("z").replace(":", "").zfill(4)
    local = 120 if text.endswith("local") else 0
    return DAY + np.timedelta64(60 * (60 * int(figures[:2]) + int(figures[2:]) - local), "s")


def read(text: str, mode: str = "SSB") -> Typed:
    return understood(text, mode, moment)


def test_the_parts_stand_in_any_order() -> None:
    wanted = Typed(
        "ZS0ABC", "599", "579", "40m", None, moment("0912"), "", "KG43ab", "ZZ/AB-001", "first one today"
    )
    parts = ("zs0abc", "599 579", "40m", "0912", "KG43ab", "zz/ab-001")
    for order in permutations(parts):
        found = read(" ".join([*order, "first one today"]), "CW")
        assert found.locator.upper() == "KG43AB"
        assert (found.call, found.sent, found.received, found.band) == ("ZS0ABC", "599", "579", "40m")
        assert (found.time, found.reference, found.note) == (wanted.time, "ZZ/AB-001", "first one today")
        assert read(" ".join(["first one today", *order]), "CW").note == "first one today"


@pytest.mark.parametrize(
    ("text", "mode", "wanted"),
    [
        ("zs1test", "CW", Typed("ZS1TEST", "599", "599")),
        ("ZS1TEST 57", "SSB", Typed("ZS1TEST", "57", "59")),
        ("59 ZS1TEST", "SSB", Typed("ZS1TEST", "59", "59")),
        ("59+20dB 57 ZS1TEST", "SSB", Typed("ZS1TEST", "59+20", "57")),
        ("ZS1TEST/P 5nn 55n", "CW", Typed("ZS1TEST/P", "599", "559")),
        ("ZS1TEST -12 +03", "DIGITAL", Typed("ZS1TEST", "-12", "+03")),
        ("ZS1TEST 40 m", "SSB", Typed("ZS1TEST", "59", "59", "40m")),
        ("ZS1TEST 7.0325", "CW", Typed("ZS1TEST", "599", "599", "40m", 7.0325)),
        ("ZS1TEST 9:12", "SSB", Typed("ZS1TEST", "59", "59", time=moment("0912"))),
        ("ZS1TEST 0912 local 59", "SSB", Typed("ZS1TEST", "59", "59", time=moment("0712"))),
        ("ZS1TEST Thandi", "SSB", Typed("ZS1TEST", "59", "59", name="Thandi")),
        ("ZS1TEST Thandi, 57 on top", "SSB", Typed("ZS1TEST", "57", "59", name="Thandi", note="on top")),
        ("ZS1TEST name ann good ant", "SSB", Typed("ZS1TEST", "59", "59", name="ann", note="good ant")),
        ("ZS1TEST note 57 59 55 73", "SSB", Typed("ZS1TEST", "59", "59", note="57 59 55 73")),
        ("ZS1TEST 59 57 gave ZS2TEST 59 at 0912", "SSB",
         Typed("ZS1TEST", "59", "57", time=moment("0912"), note="gave ZS2TEST 59 at")),
        ("ZS1TEST on 20w", "SSB", Typed("ZS1TEST", "59", "59", note="on 20w")),
        ("ZS1TEST Ann", "CW", Typed("ZS1TEST", "599", "599", name="Ann")),
        ("KG40RS 59", "SSB", Typed("KG40RS", "59", "59")),
        ("KG40RS 59 ZS1TEST", "SSB", Typed("ZS1TEST", "59", "59", locator="KG40RS")),
        ("[zs1test/p] (599) <579> \"40m\"", "CW", Typed("ZS1TEST/P", "599", "579", "40m")),
        ("zs1test 59/57", "SSB", Typed("ZS1TEST", "59", "57")),
        ("zs1test 599-579 tnx", "CW", Typed("ZS1TEST", "599", "579", note="tnx")),
        ("zs1test 14.2", "SSB", Typed("ZS1TEST", "59", "59", "20m", 14.2)),
        ("14062 zs1test", "CW", Typed("ZS1TEST", "599", "599", "20m", 14.062)),
        ("zs1test 7032.5 5nn", "CW", Typed("ZS1TEST", "599", "599", "40m", 7.0325)),
        ("zs1test r-12 -08", "DIGITAL", Typed("ZS1TEST", "-12", "-08")),
        ("zs1test 59 with 2.5 m up", "SSB", Typed("ZS1TEST", "59", "59", note="with 2.5 m up")),
        ("zs1test 57 nr 12", "SSB", Typed("ZS1TEST", "57", "59", note="nr 12")),
        ("zs1test zs1test 59 40m 40m 0912 0912", "SSB",
         Typed("ZS1TEST", "59", "59", "40m", time=moment("0912"))),
        ("zs1test note:hello 59", "SSB", Typed("ZS1TEST", "59", "59", note="hello 59")),
        ("zs1test note 599 m of wire, 10 m up", "SSB",
         Typed("ZS1TEST", "59", "59", note="599 m of wire, 10 m up")),
        ("zs1test qsl via zs2test", "SSB", Typed("ZS1TEST", "59", "59", note="qsl via zs2test")),
        ("zs1test \uff15\uff17", "SSB", Typed("ZS1TEST", "57", "59")),
        ("zs1test 17m at 10:50", "SSB", Typed("ZS1TEST", "59", "59", "17m", time=moment("10:50"))),
        ("zs1test 0:05", "SSB", Typed("ZS1TEST", "59", "59", time=moment("0005"))),
    ],
)  # fmt: skip
def test_one_line_is_one_contact(text: str, mode: str, wanted: Typed) -> None:
    assert read(text, mode) == wanted


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no call sign"),
        ("59 57", "no call sign"),
        ("ZSTEST 59", "no call sign"),
        ("ZS1<EOR> 59", "no call sign"),
        ("ZS1TEST 99", "not a report"),
        ("ZS1TEST 4tn", "not a report"),
        ("ZS1TEST 59 59 59", "three reports"),
        ("ZS1TEST ZS2TEST", "two call signs"),
        ("ZS1TEST 40m 20m", "two bands"),
        ("ZS1TEST 11m", "no band"),
        ("ZS1TEST 0912 0913", "two times"),
        ("ZS1TEST 2575", "not a report, a time"),
        ("ZS1TEST 12:60", "not a report, a time"),
        ("ZS1TEST 40", "the band is written 40m"),
        ("ZS1TEST 8.123", "no amateur band"),
        ("ZS1TEST 7.032 20m", "not on 20m"),
        ("ZS1TEST note " + "x" * 201, "200 fit"),
    ],
)
def test_what_is_not_clear_is_refused(text: str, says: str) -> None:
    with pytest.raises(InputError, match=says):
        read(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("ZS1TEST 599 579 1830", "1830 is taken as the time; as a frequency write 1.830."),
        ("ZS1TEST 599 579 1830 20m", ""),
        ("ZS1TEST 599 579 18:30", ""),
        (
            "ZS1TEST 599 579 on my 10 m wire",
            "10 m is taken as the band; if it is a length, write `note` before it.",
        ),
        ("ZS1TEST 599 579 10 m", ""),
        ("KG40RS 599 579", "KG40RS is taken as the call sign; it could be a locator."),
        ("ZS1TEST599 599 579", "ZS1TEST599 is unusual as a call sign: it ends in a figure."),
        ("KH6/ZS1TEST 599 579", ""),
        ("ZS1TEST 599", "One report is typed; it is taken as the one sent."),
        ("ZS1TEST", "No report is typed; the usual ones are taken."),
    ],
)
def test_what_a_line_leaves_open_is_told(text: str, says: str) -> None:
    assert doubt_words(read(text, "CW").doubts) == says


AS_TYPED = [
    "zs1test", "3DA0TEST", "ZS/G0TEST/P", "kg40rs", "KG40", "jo62qm", "599", "5nn", "57", "-12", "R+03", "12",
    "59+20dB", "599/579", "40m", "40 m", "20M", "10 m", "7.032", "14.2", "14062", "7032.5", "1830", "0912",
    "9:12z", "2359", "0000", "0912 local", "12:60", "2400", "ZZ/AB-001", "zz-0123", "EU-005", "Thandi",
    "ann,", "name Bo", "first", "one", "73", "100w", "2.5", "m", "n\u00e4mn", "\u65e5\u672c", ":-)", "#1",
    "<EOR>", "<CALL:3>", "\u202e", "\u0665\u0669", "q", "/", "--", "note", "note:",
]  # fmt: skip
AROUND = ("{}", "{}", "{}", "({})", "[{}]", '"{}"', "<{}>", "{},", "{};")
PIECES = st.tuples(st.sampled_from(AS_TYPED), st.sampled_from(AROUND)).map(
    lambda pair: pair[1].format(pair[0])
)
LINES = st.one_of(
    st.lists(PIECES, max_size=9).map(" ".join),
    st.lists(PIECES, max_size=6).map(lambda pieces: " ".join(["zs1test", *pieces])),
    st.lists(st.one_of(PIECES, st.text(max_size=8)), max_size=6).map("\t".join),
)


def read_or_refused(text: str, mode: str) -> tuple[Typed | None, str]:
    try:
        return read(text, mode), ""
    except InputError as error:
        return None, error.message


@settings(max_examples=600)
@given(LINES, st.sampled_from(["SSB", "CW", "FM", "DIGITAL"]))
def test_an_odd_line_is_refused_in_one_sentence_or_kept_whole(text: str, mode: str) -> None:
    """What is understood is in the record, is read from it again, and no word of the line is lost."""
    found, refused = read_or_refused(text, mode)
    if found is None:
        assert re.fullmatch(r"[^\n]+\.", refused)
        return
    time = found.time if found.time is not None else DAY
    band = found.band or "20m"
    worked = journal.Worked(
        found.call, found.sent, found.received, time, band, found.frequency_mhz, "CW", 5.0, "", "", "",
        found.name, found.locator, found.reference, found.note,
    )  # fmt: skip
    record = journal.record(worked)
    assert len(adif.read(record).records) == 1
    (made,) = journal.contacts_made(journal.header() + record)
    assert (made.call, made.sent, made.received, made.band) == (found.call, found.sent, found.received, band)
    again = read(made.line, mode)
    assert again == Typed(
        found.call, found.sent, found.received, band, found.frequency_mhz, time, found.name, found.locator,
        found.reference, found.note,
    )  # fmt: skip
    kept = f"{found.name} {found.note}".split()
    words = [word for word in kept if not re.search(r"[0-9]", word)]
    assert all(word in text for word in words if word.isalpha())
    for word in ("Thandi", "first", "one", "n\u00e4mn", "\u65e5\u672c", ":-)", "#1", "100w"):
        alone = sum(piece == word for piece in text.split())
        assert sum(piece.rstrip(",") == word for piece in kept) >= alone, "no word is lost"
