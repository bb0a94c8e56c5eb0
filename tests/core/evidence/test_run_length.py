"""Run lengths of charts: the published tables to their printed digits, and simulation where there is none."""

import json
import random
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelcare.core.evidence import run_length
from reelcare.core.evidence.baseline import MAD_TO_SIGMA, inliers

ROWS = {row["id"]: row for row in json.loads(Path("tests/references/upkeep.json").read_text("utf-8"))}


def digits(printed: float) -> float:
    """Half a unit of the last digit of a printed figure."""
    text = repr(printed)
    after = len(text.partition(".")[2]) if "." in text and not text.endswith(".0") else 0
    return 0.5001 * 10.0**-after


@pytest.mark.parametrize("id", ["C11", "C13", "C15", "C17", "C19", "C21"])
def test_cusum_run_lengths_of_lucas_and_crosier(id: str) -> None:
    # Lucas & Crosier 1982, Technometrics 24:199, table 1: k 0.5, h 4, zero start and head start of half
    row = ROWS[id]
    shift = float(re.findall(r"shift ([\d.]+)", row["inputs"])[0])
    zero, ahead = row["expected"]["ARL"], row["expected"]["ARL_FIR"]
    assert run_length.cusum(0.5, 4, shift) == pytest.approx(zero, abs=digits(zero))
    assert run_length.cusum(0.5, 4, shift, 2) == pytest.approx(ahead, abs=digits(ahead) if shift < 3 else 0.006)


def test_one_sided_cusum_run_lengths_of_waldmann() -> None:
    # Waldmann 1986, Technometrics 28:61; the row notes that shift 0 is 117.60 and not the printed 117.4
    told = ROWS["C24"]["expected"]
    found = [run_length.cusum_one_sided(0.5, 3, shift) for shift in (-0.5, 0, 0.5)]
    assert found == pytest.approx(told, rel=2e-3)


def test_cusum_run_lengths_of_a_statistics_package() -> None:
    told = ROWS["C25"]["expected"]
    found = [
        run_length.cusum_one_sided(0.25, 8, 2.5),
        run_length.cusum_one_sided(0.25, 8, 2.5, 0.1),
        run_length.cusum(0.25, 8, 2.5),
    ]
    assert found == pytest.approx(told, abs=2e-6)


@pytest.mark.parametrize(("weight", "limit", "shift"), [(0.01, 2.9, 1.0), (0.014, 3.45, 0.0), (0.014, 3.5, 0.25)])
def test_an_ewma_of_a_small_weight_is_told_as_well(weight: float, limit: float, shift: float) -> None:
    # the same integral equation (Crowder 1987, Technometrics 29:401) by another program, with 300 nodes
    edge = limit * np.sqrt(weight / (2 - weight))
    x, w = np.polynomial.legendre.leggauss(300)
    at = np.append(edge * x, 0.0)[:, None]
    steps = (edge * x - (1 - weight) * at) / weight - shift
    kernel = edge * w / weight * np.exp(-(steps**2) / 2) / np.sqrt(2 * np.pi)
    lengths = np.linalg.solve(np.eye(300) - kernel[:-1], np.ones(300))
    assert run_length.ewma(weight, limit, shift) == pytest.approx(1 + kernel[-1] @ lengths, rel=1e-6)


def test_the_precise_check_of_an_ewma() -> None:
    assert run_length.ewma(0.25, 3, 1) == pytest.approx(ROWS["C27"]["expected"], abs=1e-8)


@pytest.mark.parametrize("id", ["C28", "C29", "C31", "C33", "C35", "C37", "C38", "C39"])
def test_ewma_run_lengths_of_lucas_and_saccucci(id: str) -> None:
    # Lucas & Saccucci 1990, Technometrics 32:1, table 3
    shift = float(re.findall(r"shift ([\d.]+)", ROWS[id]["inputs"])[0])
    for (weight, limit), printed in zip(((0.5, 3.071), (0.03, 2.437)), ROWS[id]["expected"], strict=True):
        assert run_length.ewma(weight, limit, shift) == pytest.approx(printed, abs=digits(printed))


def test_ewma_run_lengths_of_crowder() -> None:
    # Crowder 1987, Technometrics 29:401, table 1; the row names one misprint (shift 1.25 at weight 0.5: 3.59)
    shifts = (0, 0.5, 1, 1.25, 2, 3)
    for shift, (half, twentieth) in zip(shifts, ROWS["C40"]["expected"], strict=True):
        assert run_length.ewma(0.5, 2, shift) == pytest.approx(3.59 if shift == 1.25 else half, abs=0.011)
        assert run_length.ewma(0.05, 2, shift) == pytest.approx(twentieth, abs=0.011)


@settings(max_examples=15)
@given(st.sampled_from([0.1, 0.2, 0.3, 0.5]), st.floats(50, 2000))
def test_a_limit_gives_back_its_run_length(weight: float, wanted: float) -> None:
    limit = run_length.ewma_limit.__wrapped__(weight, wanted)
    assert run_length.ewma(weight, limit) == pytest.approx(wanted, rel=1e-4)
    decision = run_length.cusum_limit.__wrapped__(0.5, wanted, ahead=0.25)
    assert run_length.cusum(0.5, decision, 0, 0.25 * decision) == pytest.approx(wanted, rel=1e-4)


def test_run_lengths_are_those_of_simulated_charts() -> None:
    chance = random.Random(7)

    def ewma_once(shift: float) -> int:
        average, count = 0.0, 0
        while abs(average) <= 2.7 * (0.2 / 1.8) ** 0.5:
            average = 0.2 * chance.gauss(shift, 1) + 0.8 * average
            count += 1
        return count

    for shift, times in ((0.0, 1500), (1.0, 3000)):
        found = [ewma_once(shift) for _ in range(times)]
        error = float(np.std(found)) / times**0.5
        assert run_length.ewma(0.2, 2.7, shift) == pytest.approx(float(np.mean(found)), abs=4 * error)


@given(st.integers(1, 24))
def test_nodes_and_weights_are_numpys(count: int) -> None:
    nodes, weights = np.polynomial.legendre.leggauss(count)
    ours = sorted(run_length.gauss_legendre(count))
    assert [x for x, _ in ours] == pytest.approx(list(nodes), abs=1e-12)
    assert [w for _, w in ours] == pytest.approx(list(weights), abs=1e-12)


@given(
    st.lists(st.lists(st.floats(-5, 5), min_size=4, max_size=4), min_size=4, max_size=4),
    st.lists(st.floats(-5, 5), min_size=4, max_size=4),
)
def test_linear_systems_are_solved(rows: list[list[float]], right: list[float]) -> None:
    matrix = [[one + (20 if i == j else 0) for j, one in enumerate(row)] for i, row in enumerate(rows)]
    assert run_length.solve(matrix, right) == pytest.approx(list(np.linalg.solve(matrix, right)), abs=1e-9)


def test_the_series_of_the_handbook() -> None:
    # rows C01 to C06: NIST/SEMATECH e-Handbook 6.3.2.3 and 6.3.2.4, by the recursions that our charts use
    numbers = [float(one) for one in re.findall(r"[\d.]+", ROWS["C01"]["inputs"].split("]")[0])]
    average, found = 50.0, []
    for one in numbers:
        average = 0.3 * one + 0.7 * average
        found.append(average)
    assert found == pytest.approx(ROWS["C01"]["expected"], abs=0.005)
    edge = 3 * 2.0539 * (0.3 / 1.7) ** 0.5
    assert 50 + edge == pytest.approx(ROWS["C02"]["expected"]["UCL"], abs=2e-4)
    assert ROWS["C03"]["expected"] == "no point outside limits"
    assert all(abs(one - 50) < edge for one in found)
    upper = lower = 0.0
    ups, downs = [], []
    for one in (float(text) for text in re.findall(r"[\d.]+", ROWS["C04"]["inputs"].split("]")[0])):
        upper, lower = max(0.0, upper + one - 325 - 0.3175), max(0.0, lower + 325 - one - 0.3175)
        ups.append(upper)
        downs.append(lower)
    assert ups == pytest.approx(ROWS["C04"]["expected"], abs=0.02)
    assert downs == pytest.approx(ROWS["C05"]["expected"], abs=0.02)
    assert next(place for place, one in enumerate(ups, 1) if one > 4.1959) == ROWS["C06"]["expected"]


def test_the_mad_is_that_of_a_normal_spread() -> None:
    chance = random.Random(3)
    values = [chance.gauss(0, 2) for _ in range(20_001)]
    middle = sorted(values)[10_000]
    mad = sorted(abs(one - middle) for one in values)[10_000]
    assert mad * MAD_TO_SIGMA == pytest.approx(2, rel=0.03)
    assert inliers([5.0, 5.0, 5.0, 9.0]) == [0, 1, 2]
