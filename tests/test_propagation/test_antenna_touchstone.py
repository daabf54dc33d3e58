"""Touchstone one-port files: every form of the format, and garbage with the number of its line."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.antennas.touchstone import read
from propagation.base.errors import InputError

POINTS = [(14.0, 0.3 - 0.4j), (14.2, 0.1 + 0.0j), (14.4, -0.2 + 0.5j)]


def written(unit, form, factor, newline="\n", head=""):
    lines = [head] if head else []
    lines.append(f"# {unit} S {form} R 50")
    for frequency, value in POINTS:
        size, angle = abs(value), np.degrees(np.angle(value))
        pair = {
            "RI": (value.real, value.imag),
            "MA": (size, angle),
            "DB": (20.0 * np.log10(size), angle),
        }[form.upper()]
        lines.append(f"{frequency * factor:.9g} {pair[0]:.9f} {pair[1]:.9f}")
    return newline.join(lines) + newline


@pytest.mark.parametrize(
    ("unit", "factor"), [("Hz", 1e6), ("kHz", 1e3), ("MHz", 1.0), ("GHz", 1e-3), ("mhz", 1.0)]
)
@pytest.mark.parametrize("form", ["RI", "MA", "DB", "db"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_units_formats_and_line_ends(unit, factor, form, newline):
    sweep = read(written(unit, form, factor, newline).encode())
    np.testing.assert_allclose(sweep.frequency_mhz, [p[0] for p in POINTS])
    np.testing.assert_allclose(sweep.reflection, [p[1] for p in POINTS], atol=1e-7)
    np.testing.assert_allclose(sweep.swr[1], 1.1 / 0.9, rtol=1e-6)


def test_comments_blank_lines_tabs_marks_and_latin_degrees():
    text = "! swept \xb0\r\n\r\n#\tR 75 ri MHZ S ! options in any order\r\n 14.0\t0.1 -0.2 ! first\r\n\r\n"
    text += "14.1 0.1 0.2\r\n# MHz S MA R 50\r\n1.42e1 1e-1 +.2\r\n"
    sweep = read(text.encode("latin-1"))
    assert sweep.reference_ohm == 75.0
    np.testing.assert_allclose(sweep.frequency_mhz, [14.0, 14.1, 14.2])
    np.testing.assert_allclose(sweep.reflection[2], 0.1 + 0.2j)
    assert read("\ufeff".encode() + text.encode()).frequency_mhz.size == 3


def test_defaults_without_an_option_line():
    """GHz, S, magnitude and angle, 50 ohm."""
    sweep = read("0.0140 0.5 90\n0.0142 0.1 0\n0.0144 0.5 -90\n")
    np.testing.assert_allclose(sweep.frequency_mhz, [14.0, 14.2, 14.4])
    np.testing.assert_allclose(sweep.reflection[0], 0.5j, atol=1e-12)


def test_impedance_and_admittance_parameters():
    """Z and Y are written relative to the reference: z = 2 and y = 0.5 are both a reflection of 1/3."""
    z = read("# MHz Z RI R 50\n14 2 0\n15 1 0\n16 0.5 0\n")
    np.testing.assert_allclose(z.reflection, [1 / 3, 0.0, -1 / 3])
    y = read("# MHz Y RI R 50\n14 0.5 0\n15 1 0\n16 2 0\n")
    np.testing.assert_allclose(y.reflection, z.reflection)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("# MHz S RI R 50\n14 0.1 0\n14.1 x 0\n14.2 0 0\n", "line 3: 'x' is not a number"),
        ("# MHz S RI R 50\n14 0,1 0\n", "line 2: '0,1' is not a number; write the decimal point"),
        ("# MHz S RI R 50\n14 0.1\n", "line 2: found 2 values"),
        ("# MHz S RI R 50\n14 0.1 0 0.2 0 0.1 0 0.2 0\n", "line 2: found 9 values"),
        ("# MHz S RI R 50\n14 0.1 0\n13 0.1 0\n15 0 0\n", "line 3: the frequency 13 does not rise"),
        ("# MHz S RI R 50\n14 0.1 0\n14 0.1 0\n15 0 0\n", "line 3"),
        ("# MHz S RI R 50\n-14 0.1 0\n", "line 2"),
        ("# MHz S RI R 50\n14 nan 0\n", "line 2: 'nan' is not a finite number"),
        ("# MHz S RI R 50\n14 7 0\n", "line 2: a reflection of 7"),
        ("# MHz S XY R 50\n14 0 0\n", "line 1: 'XY' is no Touchstone option"),
        ("# MHz S RI R\n14 0 0\n", "line 1: the option line ends"),
        ("# MHz S RI R 0\n14 0 0\n", "line 1: the reference impedance must be above 0"),
        ("# MHz H RI R 50\n14 0 0\n", "line 1: H parameters"),
        ("[Version] 2.0\n# MHz S RI R 50\n", "line 1: this is Touchstone version 2"),
        ("14 0.1 0\n# MHz S RI R 50\n", "line 2: the option line must come before"),
        ("", "holds 0 points"),
        ("# MHz S RI R 50\n14 0.1 0\n15 0.1 0\n", "holds 2 points"),
        ("frequency,swr\n14,1.5\n", "line 1: found 1 values"),
        (b"PK\x03\x04\x00\x00binary", "line 1: this is not a text file"),
    ],
)
def test_garbage_is_refused_with_its_line(text, word):
    with pytest.raises(InputError, match=r"a\.s1p") as caught:
        read(text, "a.s1p")
    assert word in str(caught.value)


@given(st.binary(max_size=200) | st.text(max_size=200))
@settings(max_examples=150, deadline=None)
def test_any_bytes_give_a_sweep_or_one_sentence(data):
    try:
        sweep = read(data)
    except InputError as error:
        sentence = str(error)
    else:
        sentence = ""
        assert np.all(np.isfinite(sweep.swr))
    assert "\n" not in sentence
