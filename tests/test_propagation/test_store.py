"""Stored copies: whole through a crash, found out when damaged."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.base.store import Store, Stored, StoreError

NOW = np.datetime64("2031-02-27T09:00", "s")
ROOT = Path(__file__).resolve().parents[2]


def stored(body: bytes, name: str = "flux", **more: str | None) -> Stored:
    return Stored(name, body, "https://example.org/flux", NOW, NOW, **more)


@settings(max_examples=25)
@given(
    body=st.binary(max_size=2000),
    etag=st.one_of(st.none(), st.text(max_size=40)),
    modified=st.one_of(st.none(), st.text(max_size=40)),
)
def test_what_is_put_comes_back(
    tmp_path_factory: pytest.TempPathFactory, body: bytes, etag: str | None, modified: str | None
) -> None:
    store = Store(tmp_path_factory.mktemp("store") / "deep" / "er")
    assert store.get("flux") is None
    copy = stored(body, etag=etag, last_modified=modified)
    store.put(copy)
    assert store.get("flux") == copy
    assert store.names() == ["flux"]


def test_replacing_and_forgetting(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.put(stored(b"first"))
    store.put(stored(b"second"))
    copy = store.get("flux")
    assert copy is not None
    assert copy.body == b"second"
    assert store.remove("flux")
    assert not store.remove("flux")
    assert os.listdir(tmp_path) == []


def test_damage_anywhere_is_found_out(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.put(stored(b'{"some": "body of some length"}'))
    file = tmp_path / "flux.stored"
    whole = file.read_bytes()
    for at in range(0, len(whole), 3):
        for damaged in (whole[:at], whole[:at] + bytes([whole[at] ^ 0x11]) + whole[at + 1 :]):
            file.write_bytes(damaged)
            try:
                copy = store.get("flux")
            except StoreError:
                continue
            # else the damage hit a word of the first line that says nothing of the body
            assert copy is not None
            assert copy.body == b'{"some": "body of some length"}'
    file.write_bytes(whole[:-1])
    with pytest.raises(StoreError, match=r"flux\.stored is damaged"):
        store.get("flux")


def test_a_copy_that_cannot_be_read_or_written_is_one_sentence(tmp_path: Path) -> None:
    blocked = tmp_path / "a file"
    blocked.write_text("not a folder")
    with pytest.raises(StoreError, match="cannot be"):
        Store(blocked).put(stored(b"x"))
    (tmp_path / "flux.stored").mkdir()
    with pytest.raises(StoreError, match="cannot be read"):
        Store(tmp_path).get("flux")
    with pytest.raises(StoreError, match="cannot be written"):
        Store(tmp_path).put(stored(b"x"))
    assert [name for name in os.listdir(tmp_path) if name.endswith(".part")] == []


@pytest.mark.parametrize("name", ["", "../flux", "a/b", ".hidden"])
def test_names_stay_inside_the_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="not a name"):
        Store(tmp_path).get(name)


WRITER = """
import sys
import numpy as np
from pathlib import Path
from propagation.base.store import Store, Stored
store, now = Store(Path(sys.argv[1])), np.datetime64("2031-02-27T09:00", "s")
print("ready", flush=True)
number = 0
while True:
    number += 1
    store.put(Stored("flux", str(number).encode() * 40000, "test", now, now))
"""


@pytest.mark.skipif(os.name == "nt", reason="kill -9 is a signal of Unix")
def test_killing_the_writer_leaves_a_whole_copy(tmp_path: Path) -> None:
    store, chance = Store(tmp_path), random.Random(5)
    store.put(stored(b"old data"))
    for _ in range(8):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(tmp_path)], stdout=subprocess.PIPE, cwd=ROOT
        ) as writer:
            assert writer.stdout is not None
            assert writer.stdout.readline() == b"ready\n"
            time.sleep(chance.uniform(0.0, 0.06))
            writer.send_signal(signal.SIGKILL)
            writer.wait()
        copy = store.get("flux")  # StoreError if it were damaged
        assert copy is not None
        number = copy.body[: len(copy.body) // 40000] if copy.body != b"old data" else b""
        assert copy.body in (b"old data", number * 40000)
    store.put(stored(b"new data"))
    copy = store.get("flux")
    assert copy is not None
    assert copy.body == b"new data"
