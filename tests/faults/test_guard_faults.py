"""Hostile and broken files: each is refused for its own reason before any parser sees it, or does no harm."""

import random
import tracemalloc
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from python_calamine import CalamineError, CalamineWorkbook

from tests.faults.hostile import HOSTILE
from tests.faults.packages import entry, good_parts, made, pack
from workbook_tools.contract.guard import REFUSALS, guard

MB = 1 << 20
SOUND = made()
SOUND_VALUES = [["label", 7.0]]


def values(data: bytes) -> list[list[object]] | None:
    """What the reader gives for the first sheet, or None when it refuses the file."""
    try:
        book = CalamineWorkbook.from_filelike(BytesIO(data))
        return book.get_sheet_by_index(0).to_python()
    except (CalamineError, OSError):
        return None


@pytest.mark.parametrize("name", HOSTILE)
def test_every_hostile_file_is_refused_for_its_own_reason(name):
    """The guard names the rule the file was built to break, and lets through what only looks dangerous."""
    maker, expected = HOSTILE[name]
    refusal = guard(maker())
    assert (refusal.rule if refusal else None) == expected


@pytest.mark.parametrize("name", [name for name, (_, expected) in HOSTILE.items() if expected is None])
def test_what_passes_does_the_reader_no_harm(name):
    """A file that passes is read in this very process: it neither aborts the reader nor hangs it."""
    found = values(HOSTILE[name][0]())
    assert found is None or sum(map(len, found)) < 1_000


@pytest.mark.parametrize("name", [name for name in HOSTILE if "bomb" in name or "large together" in name])
def test_bombs_are_refused_within_bounds(name):
    """Looking at a bomb takes a small part of the memory it asks for."""
    data = HOSTILE[name][0]()
    tracemalloc.start()
    try:
        guard(data)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 50 * MB


def test_a_file_cut_anywhere_is_refused():
    """A workbook cut at each per cent of its length is refused, the whole one is not."""
    lengths = [len(SOUND) * percent // 100 for percent in range(100)]
    assert [length for length in lengths if guard(SOUND[:length]) is None] == []
    assert guard(SOUND) is None


@pytest.mark.parametrize("tenth", range(10))
def test_a_changed_byte_never_changes_an_answer(tenth):
    """Whichever byte is changed, the file is refused, or it still says what it said."""
    rng = random.Random(tenth)
    for position in range(len(SOUND) * tenth // 10, len(SOUND) * (tenth + 1) // 10):
        changed = bytearray(SOUND)
        changed[position] ^= rng.randrange(1, 256)
        refusal = guard(bytes(changed))
        assert refusal is not None or values(bytes(changed)) in (SOUND_VALUES, None), position


@pytest.mark.parametrize("name", good_parts())
@pytest.mark.parametrize("how", ["removed", "renamed", "doubled", "emptied"])
def test_a_part_removed_renamed_doubled_or_emptied_never_changes_an_answer(name, how):
    """Packages put together wrongly are refused, or say what they said."""
    entries = {part: entry(part, data) for part, data in good_parts().items()}
    if how == "removed":
        del entries[name]
    elif how == "renamed":
        entries[name] = entry(f"{name}x", good_parts()[name])
    elif how == "emptied":
        entries[name] = entry(name, b"")
    data = pack([*entries.values(), *([entries[name]] if how == "doubled" else [])])
    refusal = guard(data)
    assert refusal is not None or values(data) in (SOUND_VALUES, None)
    assert refusal is not None or how != "doubled"


@given(st.binary(max_size=3000), st.sampled_from([b"", b"PK\x03\x04", b"PK\x05\x06", b"\xd0\xcf\x11\xe0", b"<"]))
@settings(max_examples=300, deadline=None)
def test_no_bytes_whatever_raise(noise, start):
    """Noise, alone or behind the first bytes of a known format, is refused and raises nothing."""
    refusal = guard(start + noise)
    assert refusal is not None
    assert refusal.rule in REFUSALS


@given(st.data())
@settings(max_examples=300, deadline=None)
def test_no_damage_to_the_xml_raises(data):
    """Parts with pieces cut out, doubled or overwritten are refused or pass; nothing raises, nothing hangs."""
    parts = good_parts()
    name = data.draw(st.sampled_from([part for part in parts if part.endswith((".xml", ".rels"))]))
    xml = parts[name]
    start, end = sorted(data.draw(st.tuples(*(st.integers(0, len(xml)),) * 2)))
    parts[name] = (
        xml[:start] + data.draw(st.sampled_from([b"", xml[start:end] * 2, b"<", b'"', b"\0", b">"])) + xml[end:]
    )
    refusal = guard(pack(entry(*part) for part in parts.items()))
    assert refusal is None or refusal.rule in REFUSALS
