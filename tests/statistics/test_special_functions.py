"""Incomplete gamma and beta functions and the quantiles: against closed forms, and against scipy where it is installed."""

from itertools import product
from math import exp, inf, isclose, log, pi, sqrt, tan
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.statistics.quantiles import (
    beta_quantile,
    chi_square_chance,
    chi_square_quantile,
    gamma_quantile,
    normal_chance,
    normal_quantile,
    student_chance,
    student_quantile,
)
from watchdog.statistics.special import beta_tails, gamma_tails

CHANCES = (1e-9, 1e-4, 0.005, 0.025, 0.05, 0.2, 0.5, 0.8, 0.95, 0.975, 0.995, 0.9999)


@pytest.fixture
def scipy() -> Any:
    return pytest.importorskip("scipy")


def close(found: float, wanted: float, within: float = 1e-10) -> bool:
    return isclose(found, wanted, rel_tol=within, abs_tol=1e-290)


@pytest.mark.parametrize("x", [1e-12, 0.3, 1.0, 4.0, 30.0, 200.0])
def test_the_gamma_tails_of_shape_one_are_the_exponential_law(x: float) -> None:
    below, above = gamma_tails(1, x)
    assert close(above, exp(-x))
    assert isclose(below, 1 - exp(-x), rel_tol=1e-4 if x < 1e-9 else 1e-12)


@pytest.mark.parametrize("x", [0.001, 0.2, 0.5, 0.9, 0.999])
def test_the_beta_tails_of_whole_shapes_are_binomial_sums(x: float) -> None:
    """I_x(2, 3): at least 2 of 4 trials succeed."""
    wanted = 6 * x**2 * (1 - x) ** 2 + 4 * x**3 * (1 - x) + x**4
    below, above = beta_tails(2, 3, x)
    assert close(below, wanted, 1e-12)
    assert close(above, (1 - x) ** 4 + 4 * x * (1 - x) ** 3, 1e-12)


def test_chi_square_with_two_degrees_is_an_exponential_law() -> None:
    for chance in CHANCES:
        assert close(chi_square_quantile(chance, 2), -2 * log(1 - chance), 1e-7 if chance < 1e-8 else 1e-11)


def test_student_with_one_degree_is_the_cauchy_law_and_with_two_has_a_closed_form() -> None:
    for chance in CHANCES[2:]:
        assert isclose(student_quantile(chance, 1), tan(pi * (chance - 0.5)), rel_tol=1e-10, abs_tol=1e-15)
        a = 2 * chance - 1
        assert isclose(student_quantile(chance, 2), a * sqrt(2 / (1 - a * a)), rel_tol=1e-10, abs_tol=1e-15)


def test_the_gamma_tails_agree_with_scipy(scipy: Any) -> None:
    from scipy import special

    for a, part in product((0.01, 0.5, 1, 2.5, 10, 77, 400, 5000), (0.001, 0.2, 0.8, 1.0, 1.02, 1.3, 2, 5)):
        below, above = gamma_tails(a, a * part)
        if special.gammainc(a, a * part) > 1e-280:
            assert close(below, float(special.gammainc(a, a * part))), (a, part)
        if special.gammaincc(a, a * part) > 1e-280:
            assert close(above, float(special.gammaincc(a, a * part)), 1e-9), (a, part)


def test_the_beta_tails_agree_with_scipy(scipy: Any) -> None:
    from scipy import special

    shapes = (0.05, 0.5, 1, 3, 20.5, 150, 2000)
    for a, b, x in product(shapes, shapes, (1e-8, 0.01, 0.2, 0.5, 0.7, 0.95, 0.9999)):
        below, above = beta_tails(a, b, x)
        for found, wanted in ((below, special.betainc(a, b, x)), (above, special.betaincc(a, b, x))):
            if wanted > 1e-200:
                assert close(found, float(wanted), 2e-10 if wanted > 1e-12 else 1e-7), (a, b, x)


def test_the_quantiles_agree_with_scipy(scipy: Any) -> None:
    from scipy import stats

    for chance, freedom in product(CHANCES, (0.5, 1, 2, 3, 7, 20, 42, 199, 3000)):
        assert close(chi_square_quantile(chance, freedom), stats.chi2.ppf(chance, freedom)), (chance, freedom)
        assert isclose(student_quantile(chance, freedom), stats.t.ppf(chance, freedom), rel_tol=1e-9, abs_tol=1e-15)
        assert close(normal_quantile(chance), stats.norm.ppf(chance), 1e-12) or chance == 0.5
    for chance, a, b in product(CHANCES, (0.5, 1, 3, 18, 191), (0.5, 2, 11, 300)):
        if chance > 1e-5 or a >= 1:  # scipy itself gives up there
            assert close(beta_quantile(chance, a, b), stats.beta.ppf(chance, a, b), 1e-9), (chance, a, b)


def test_the_distribution_functions_agree_with_scipy(scipy: Any) -> None:
    from scipy import stats

    for z in (-30.0, -8.0, -1.96, 0.0, 0.3, 5.0):
        assert close(normal_chance(z), stats.norm.cdf(z), 1e-12)
        assert close(student_chance(z, 4.5), stats.t.cdf(z, 4.5))
        assert close(chi_square_chance(abs(z), 5), stats.chi2.cdf(abs(z), 5)) or z == 0


@given(st.floats(0.001, 0.999), st.floats(0.3, 500.0))
def test_a_quantile_put_back_gives_its_chance(chance: float, a: float) -> None:
    assert isclose(gamma_tails(a, gamma_quantile(chance, a))[0], chance, rel_tol=1e-10)


@given(st.floats(0.001, 0.999), st.floats(0.5, 300.0), st.floats(0.5, 300.0))
def test_a_beta_quantile_put_back_gives_its_chance(chance: float, a: float, b: float) -> None:
    assert isclose(beta_tails(a, b, beta_quantile(chance, a, b))[0], chance, rel_tol=1e-8)


@given(st.floats(0.01, 300.0), st.floats(0.0, 1e4))
def test_both_tails_make_one(a: float, x: float) -> None:
    below, above = gamma_tails(a, x)
    assert 0 <= below <= 1
    assert 0 <= above <= 1
    assert isclose(below + above, 1, rel_tol=1e-12)


@pytest.mark.parametrize("chance", [0.0, 1.0, -0.1, 1.5, float("nan")])
def test_a_chance_outside_nought_and_one_is_refused(chance: float) -> None:
    for ask in (normal_quantile, lambda c: chi_square_quantile(c, 3), lambda c: student_quantile(c, 3)):
        with pytest.raises(ValueError, match="chance"):
            ask(chance)


def test_what_the_functions_cannot_take_is_refused() -> None:
    for a, x in ((0.0, 1.0), (1.0, -1.0), (1.0, float("nan"))):
        with pytest.raises(ValueError, match="needs"):
            gamma_tails(a, x)
    for a, b, x in ((1.0, 1.0, 1.5), (0.0, 1.0, 0.5)):
        with pytest.raises(ValueError, match="needs"):
            beta_tails(a, b, x)
    assert gamma_tails(3, inf) == (1.0, 0.0)
    assert beta_tails(2, 3, 1.0) == (1.0, 0.0)
