"""Rain from a file into the append-only rows, by the service and by the command."""

import csv
import io
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from core import company
from core.act import by_system
from core.models import History
from maintenance import rain
from maintenance.models import Gauge, RainRow

pytestmark = pytest.mark.django_db

PLAIN = "date,rain\n2024-01-01,0.5\n2024-01-02,0\n2024-01-03,1\n"


def run(path: Path, *extra: str, unit: str = "in") -> str:
    out = io.StringIO()
    call_command("import_rain", str(path), "--gauge", "Yard gauge", "--unit", unit, *extra, stdout=out)
    return out.getvalue()


@pytest.fixture
def plain(tmp_path: Path) -> Path:
    path = tmp_path / "rain.csv"
    path.write_text(PLAIN)
    return path


def test_a_dry_run_changes_nothing(plain: Path) -> None:
    said = run(plain)
    assert "3 new rows" in said
    assert "Nothing was written" in said
    assert RainRow.objects.count() == Gauge.objects.count() == History.objects.count() == 0


def test_apply_appends_and_the_same_file_again_writes_nothing(plain: Path) -> None:
    assert "3 new rows, 0 corrected" in run(plain, "--apply")
    assert list(RainRow.objects.values_list("hour", "depth_mm")) == [(-1, 12.7), (-1, 0.0), (-1, 25.4)]
    before = list(RainRow.objects.values())
    assert "0 new rows, 0 corrected, 3 already there" in run(plain, "--apply")
    assert list(RainRow.objects.values()) == before


def test_a_corrected_value_is_a_later_row(plain: Path) -> None:
    run(plain, "--apply")
    plain.write_text(PLAIN.replace("2024-01-03,1", "2024-01-03,2"))
    assert "0 new rows, 1 corrected, 2 already there" in run(plain, "--apply")
    third = RainRow.objects.filter(day="2024-01-03").order_by("id")
    assert [row.depth_mm for row in third] == [25.4, 50.8]
    assert third[1].recorded_at > third[0].recorded_at


def test_bad_rows_stop_everything_unless_left_out(plain: Path) -> None:
    plain.write_text(PLAIN + "2024-01-04,minus\n2024-01-05,-1\n")
    with pytest.raises(CommandError, match="2 rows cannot be taken"):
        run(plain, "--apply")
    assert RainRow.objects.count() == 0
    assert "2 errors" in run(plain, "--apply", "--leave-out-bad-rows")
    assert RainRow.objects.count() == 3


def test_the_unit_has_to_be_given(plain: Path) -> None:
    with pytest.raises(CommandError, match="unit"):
        call_command("import_rain", str(plain), "--gauge", "Yard gauge")


def test_a_zone_that_is_none_is_named(plain: Path) -> None:
    with pytest.raises(CommandError, match="IANA zone"):
        run(plain, "--zone", "America/Nowhere")


def test_the_first_gauge_is_used_and_a_second_does_not_take_over(plain: Path) -> None:
    assert "forecasts now use Yard gauge" in run(plain, "--apply")
    assert company.current().gauge == "Yard gauge"
    act = by_system("test")
    result = rain.import_file(act=act, data=PLAIN.encode(), gauge_name="Other", unit="mm", apply=True)
    assert (result.applied, result.result.now_used) == (True, False)
    assert company.at(act.at + timedelta(seconds=1)).gauge == "Yard gauge"


def test_the_real_daily_record_a_package_carries_goes_in_whole(tmp_path: Path) -> None:
    # 1,461 days from 2012 to 2015: four years with one leap day, 4 x 365 + 1.
    import vega_datasets

    source = Path(vega_datasets.__file__).parent / "_data" / "seattle-weather.csv"
    with source.open() as file:
        record = list(csv.DictReader(file))
    assert len(record) == 4 * 365 + 1
    said = run(source, "--apply", unit="mm")
    assert "1461 rows in the layout date and rain, 2012-01-01 to 2015-12-31: 1461 values" in said
    assert "0 errors, 0 gaps" in said
    stored = list(RainRow.objects.order_by("day").values_list("day", "depth_mm"))
    assert [depth for _, depth in stored] == [pytest.approx(float(row["precipitation"])) for row in record]
    assert [day.strftime("%Y/%m/%d") for day, _ in stored] == [row["date"] for row in record]
