"""Raw answers: several identifiers, lines, damage; scalings are held against published bytes elsewhere."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.errors import BadResponse
from ingest.service01 import WIDTHS, decode


def test_forms_are_equal() -> None:
    """Blanks, capitals, the answer mark, lines and bytes make no difference."""
    expected = {"RPM": 750.0, "ECT": 90.0}

    assert decode("41 0C 0B B8 05 82").values == expected
    assert decode("0c0bb80582").values == expected
    assert decode("41 0C 0B B8\n\n41 05 82\n").values == expected
    assert decode(bytes([0x0C, 0x0B, 0xB8, 0x05, 0x82])).values == expected


def test_maxima_count_across_lines() -> None:
    """A rescaling in one line counts for a reading in another."""
    assert decode("41 0B 80\n41 4F 00 00 00 1A").values["MAP"] == pytest.approx(130.5098, abs=1e-4)


def test_identifier_without_a_value_is_passed_over() -> None:
    """Lists of supported identifiers and the like are skipped by their length."""
    assert decode("00 BE 3E B8 11 01 00 07 65 04 0D 32").values == {"VSS": 50.0}


@pytest.mark.parametrize(
    ("answer", "code"),
    [
        ("41 0C 0B", "service01-length"),
        ("41", "service01-length"),
        ("", "service01-length"),
        ("41 99 01", "service01-pid"),
        ("0C 0B B8 99", "service01-pid"),
        ("07 80 99", "service01-pid"),
        ("4", "service01-hex"),
        ("RPM 750", "service01-hex"),
        ("٤1 05 82", "service01-hex"),
        ("05 82 05 83", "service01-repeated"),
        ("05 82\n05 83", "service01-repeated"),
        ("03 03 00", "fuel-system-bits"),
    ],
)
def test_damage_has_its_own_code(answer: str, code: str) -> None:
    """Each kind of damage is refused by name."""
    with pytest.raises(BadResponse) as caught:
        decode(answer)

    assert caught.value.code == code


def test_same_answer_twice_is_fine() -> None:
    """Two computers that answer alike say it once."""
    assert decode("41 05 82\n41 05 82").values == {"ECT": 90.0}


@given(st.binary(max_size=40), st.booleans())
def test_any_bytes_are_decoded_or_refused(answer: bytes, four_banks: bool) -> None:
    """No bytes break the decoder."""
    with suppress(BadResponse):  # anything else fails the test
        decode(answer, four_banks=four_banks)


@given(st.text(max_size=40))
def test_any_text_is_decoded_or_refused(answer: str) -> None:
    """No text breaks the decoder."""
    with suppress(BadResponse):  # anything else fails the test
        decode(answer)


@given(
    st.lists(st.sampled_from(sorted(set(WIDTHS) - {0x03, 0x1D, 0x41})), unique=True, min_size=1), st.data()
)
def test_well_formed_answers_decode(pids: list[int], data: st.DataObject) -> None:
    """Any well-formed answer decodes, in any order of its identifiers to the same values."""
    parts = [bytes([pid]) + data.draw(st.binary(min_size=WIDTHS[pid], max_size=WIDTHS[pid])) for pid in pids]

    values = decode(b"\x41" + b"".join(parts)).values

    assert decode(b"\x41" + b"".join(reversed(parts))).values == values
