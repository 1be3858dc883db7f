"""The checker catches each seeded fault, and finds nothing wrong with what we write: rows F, C, E, T and R."""

import pytest

from tests.feedcheck import HTTP_RULES, ROWS, RULES, SERIES_ROWS, check_feed, explain
from tests.feedcheck.lines import refold, unfold
from tests.feedcheck.seeds import BODY_SEEDS, Seed
from tests.maintenance.calendar.samples import EASTERN, NOW, make_feed

FORBIDDEN = ("4471",)
CASES = [(row_id, number, seed) for row_id, seeds in BODY_SEEDS.items() for number, seed in enumerate(seeds)]


def test_every_row_of_the_list_has_a_rule():
    assert set(RULES) | set(HTTP_RULES) | set(SERIES_ROWS) == set(ROWS)


def test_every_body_row_has_a_seeded_fault():
    assert set(BODY_SEEDS) == set(RULES)


def test_our_feed_fails_no_row():
    assert explain(make_feed(), now=NOW, forbid=FORBIDDEN) == {}


def test_an_empty_feed_fails_no_row():
    assert explain(make_feed([], (EASTERN,)), now=NOW) == {}


def test_the_seeds_fold_as_well_as_we_do():
    # Else a seed could be caught for its folding and not for its fault.
    assert explain(refold(unfold(make_feed())), now=NOW) == {}


@pytest.mark.parametrize(("row_id", "number", "seed"), CASES, ids=[f"{r}-{n}" for r, n, _ in CASES])
def test_the_seeded_fault_is_caught(row_id: str, number: int, seed: Seed):
    spoiled = seed(make_feed())
    assert spoiled != make_feed()
    assert row_id in check_feed(spoiled, now=NOW, forbid=FORBIDDEN)
