"""The gauge file reader: layouts, units, and everything it has to say about a row."""

from datetime import date

import pytest

from maintenance import rain_files

TODAY = date(2026, 7, 1)
ZONE = "America/New_York"


def read(text: str, unit: str = "mm", zone: str = ZONE, station: str = "") -> rain_files.RainFile:
    return rain_files.read_rain(text.encode(), unit=unit, zone=zone, today=TODAY, station=station)


def said(result: rain_files.RainFile) -> list[tuple[int, str, bool]]:
    return [(report.row, report.column, report.error) for report in result.reports]


# 1 in = 25.4 mm exactly: international yard and pound agreement of 1959 (NIST SP 811, appendix B.8).
@pytest.mark.parametrize(
    ("unit", "given", "mm"), [("in", "1.00", 25.4), ("mm", "12.5", 12.5), ("tenth-mm", "254", 25.4)]
)
def test_the_stated_unit_governs(unit: str, given: str, mm: float) -> None:
    result = read(f"date,rain\n2024-03-01,{given}\n", unit=unit)
    assert [value.depth_mm for value in result.values] == [pytest.approx(mm, abs=1e-9)]


@pytest.mark.parametrize("unit", ["", "inch", "cm", "IN"])
def test_a_unit_is_never_guessed(unit: str) -> None:
    with pytest.raises(rain_files.RainFileError, match="never guessed"):
        read("date,rain\n2024-03-01,1\n", unit=unit)


def test_a_column_that_names_another_unit_is_refused() -> None:
    with pytest.raises(rain_files.RainFileError, match="one of the two is wrong"):
        read("date,rain_in\n2024-03-01,1\n", unit="mm")


def test_daily_summaries_layout_with_attributes_and_a_trace() -> None:
    # Column names and the trace flag T: daily summaries documentation of the US National Centers for Environmental
    # Information (GHCN-Daily readme, MFLAG1), value from memory.
    text = (
        '"STATION","NAME","DATE","PRCP","PRCP_ATTRIBUTES","TMAX"\n'
        '"ST0001","INVENTED","2024-01-01","0","T,,N","10"\n'
        '"ST0001","INVENTED","2024-01-02","254",",,N","11"\n'
        '"ST0001","INVENTED","2024-01-03","","","11"\n'
        '"ST0001","INVENTED","2024-01-04","30",",,N","11"\n'
    )
    result = read(text, unit="tenth-mm")
    assert result.layout == "daily summaries"
    assert [(v.day.day, v.depth_mm, v.flag) for v in result.values] == [(1, 0.0, "trace"), (2, 25.4, ""), (4, 3.0, "")]
    assert said(result) == [(2, "rain", False), (4, "rain", False)]
    assert result.gaps == ((date(2024, 1, 3), date(2024, 1, 3)),)


def test_several_stations_need_a_name() -> None:
    text = "STATION,DATE,PRCP\nA,2024-01-01,1\nB,2024-01-01,2\n"
    with pytest.raises(rain_files.RainFileError, match="2 stations: A, B"):
        read(text)
    assert [v.depth_mm for v in read(text, station="B").values] == [2.0]


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("-1", "Less than 0 mm"),
        ("wet", "Not a number"),
        ("nan ", None),
        ("inf", "Not a number"),
        ("2000", "check the unit"),
    ],
)
def test_values_that_cannot_be(cell: str, words: str | None) -> None:
    result = read(f"date,rain\n2024-01-01,1\n2024-01-02,{cell}\n")
    assert len(result.values) == 1
    (report,) = result.reports
    assert report.row == 3
    assert report.error == (words is not None)
    if words:
        assert words in report.message


@pytest.mark.parametrize("day", ["03/04/2024", "4 March", "2024-13-01", "2026-07-02"])
def test_days_that_cannot_be(day: str) -> None:
    result = read(f"date,rain\n{day},1\n")
    assert said(result) == [(2, "date", True)]


def test_slashes_and_bare_digits_with_the_year_first() -> None:
    result = read("2024/01/01,1\n20240102,2\n")
    assert [v.day.isoformat() for v in result.values] == ["2024-01-01", "2024-01-02"]


def test_repeated_days() -> None:
    result = read("date,rain\n2024-01-01,1\n2024-01-01,1.0\n2024-01-02,3\n2024-01-02,4\n")
    assert said(result) == [(3, "date", False), (5, "date", True)]
    assert [v.depth_mm for v in result.values] == [1.0, 3.0]


def test_gaps_are_runs_of_days() -> None:
    result = read("date,rain\n2024-01-01,1\n2024-01-05,1\n2024-01-06,1\n2024-01-08,1\n")
    assert result.gaps == ((date(2024, 1, 2), date(2024, 1, 4)), (date(2024, 1, 7), date(2024, 1, 7)))
    assert result.gap_days == 4


def hours(day: str, wanted: list[int]) -> str:
    return "".join(f"{day},{hour},0.5\n" for hour in wanted)


def test_the_hour_a_clock_change_repeats_is_added_and_reported() -> None:
    # US clocks went back at 02:00 on 3 November 2024 (Energy Policy Act of 2005, section 110): 01:00 came twice.
    wanted = [0, 1, 1, *range(2, 24)]
    result = read("date,hour,rain\n" + hours("2024-11-03", wanted))
    (report,) = result.reports
    assert (report.row, report.error) == (4, False)
    assert "clocks went back" in report.message
    assert sum(v.depth_mm for v in result.values) == pytest.approx(12.5)
    assert next(v for v in result.values if v.hour == 1).flag == "repeated hour"


def test_a_third_time_in_the_repeated_hour_is_an_error() -> None:
    result = read("date,hour,rain\n" + hours("2024-11-03", [0, 1, 1, 1, *range(2, 24)]).replace("1,0.5", "1,0.5"))
    assert [report.error for report in result.reports] == [False, True]


def test_an_hour_repeated_on_any_other_day_is_an_error_when_it_differs() -> None:
    text = "date,hour,rain\n" + hours("2024-11-04", list(range(24))) + "2024-11-04,1,0.7\n"
    assert [report.error for report in read(text).reports] == [True]


def test_the_hour_the_clocks_skip_is_not_missing() -> None:
    # 02:00 to 03:00 on 10 March 2024 did not exist in US zones with daylight saving time (same Act).
    assert read("date,hour,rain\n" + hours("2024-03-10", [h for h in range(24) if h != 2])).reports == ()
    lacking = read("date,hour,rain\n" + hours("2024-03-11", [h for h in range(24) if h != 2]))
    assert "1 of its hours" in lacking.reports[0].message


def test_iso_timestamps_with_an_offset_are_read_in_the_gauges_zone() -> None:
    result = read("timestamp,rain\n2024-07-02T03:00:00+00:00,2\n2024-07-01 22:00,3\n")
    assert [(v.day.isoformat(), v.hour, v.depth_mm) for v in result.values] == [
        ("2024-07-01", 22, 3.0),
        ("2024-07-01", 23, 2.0),
    ]


@pytest.mark.parametrize("hour", ["24", "-1", "noon", ""])
def test_hours_that_cannot_be(hour: str) -> None:
    assert (2, "hour", True) in said(read(f"date,hour,rain\n2024-01-01,{hour},1\n"))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no rows"),
        (b"\xff\xfe\x00", "not UTF-8"),
        (b"a,b\n1,2\n", "are needed"),
        (b"date,rain,prcp\n2024-01-01,1,1\n", "Several columns"),
    ],
)
def test_files_that_cannot_be_read(data: bytes, words: str) -> None:
    with pytest.raises(rain_files.RainFileError, match=words):
        rain_files.read_rain(data, unit="mm", zone=ZONE, today=TODAY)


def test_every_bad_row_is_reported_whole() -> None:
    rows = ["date,rain"]
    rows += [f"{date.fromordinal(date(2016, 1, 1).toordinal() + n)},{'x' if n % 75 == 0 else 1}" for n in range(3000)]
    result = read("\n".join(rows))
    assert [report.row for report in result.errors] == [n + 2 for n in range(0, 3000, 75)]
    assert len(result.values) == 2960
