"""RFC 5545 section 3.1 and 3.2 (content lines, folding, character set) for what a feed writes.

Source: RFC 5545, Internet Calendaring and Scheduling Core Object Specification, September 2009.
"""

import re

from maintenance.calendar.lines import fold_line
from tests.feedcheck.lines import parse_line, unfold
from tests.maintenance.calendar.samples import make_event, make_feed

BODY = make_feed()
# The example of section 3.1, folded as the section folds it.
RFC_FOLDED = b"DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n"
RFC_LINE = "DESCRIPTION:This is a long description that exists on a long line."


def test_3_1_the_sections_own_example_unfolds():
    assert unfold(RFC_FOLDED) == [RFC_LINE]


def test_3_1_the_sections_own_example_is_short_enough_not_to_be_folded():
    assert fold_line(RFC_LINE) == RFC_LINE.encode() + b"\r\n"


def test_3_1_lines_are_delimited_by_crlf():
    assert BODY.endswith(b"\r\n")
    assert b"\n" not in BODY.replace(b"\r\n", b"")
    assert b"\r" not in BODY.replace(b"\r\n", b"")


def test_3_1_lines_are_at_most_75_octets_excluding_the_line_break():
    lengths = [len(line) for line in BODY.split(b"\r\n")]
    assert max(lengths) <= 75
    assert max(lengths) > 70  # else nothing here was long enough to be folded


def test_3_1_a_75_octet_line_is_not_folded_and_76_is():
    assert fold_line("A" * 75) == b"A" * 75 + b"\r\n"
    assert fold_line("A" * 76) == b"A" * 75 + b"\r\n A\r\n"


def test_3_1_every_line_is_a_content_line_of_the_grammar():
    assert all(parse_line(line) for line in unfold(BODY))


def test_3_1_no_control_character_is_sent():
    body = make_feed([make_event(summary="".join(map(chr, range(32))) + "x\x7f\x85\u2028y")])
    assert not re.search(rb"[\x00-\x09\x0b\x0c\x0e-\x1f\x7f]", body)
    assert b"SUMMARY:x y\r\n" in body


def test_3_1_4_the_stream_is_utf_8_without_a_mark():
    assert BODY.decode("utf-8").startswith("BEGIN:VCALENDAR\r\n")


def test_3_2_19_tzid_is_not_put_on_utc_or_date_values():
    lines = [line for text in unfold(BODY) if (line := parse_line(text))]
    utc = [line for line in lines if re.fullmatch(r"\d{8}T\d{6}Z", line.value)]
    dates = [line for line in lines if line.params.get("VALUE") == "DATE"]
    assert utc
    assert dates
    assert not any("TZID" in line.params for line in utc + dates)


def test_3_2_19_every_tzid_has_its_vtimezone_in_the_same_stream():
    lines = [line for text in unfold(BODY) if (line := parse_line(text))]
    used = {line.params["TZID"] for line in lines if "TZID" in line.params}
    declared = {line.value for line in lines if line.name == "TZID"}
    assert len(used) >= 3
    assert used <= declared
