import math

import pytest

from hoofcohort.report import numbers as n


@pytest.mark.parametrize(
    ("low", "high", "decimals"),
    [
        (1.0, 3.6, 1),
        (-0.011, 0.076, 3),
        (0, 250, 0),
        (0, 12, 0),
        (0, 9.96, 0),
        (0, 9.94, 1),
        (0, 0.00123, 4),
        (2, 2, 2),
    ],
)
def test_decimals_show_the_intervals_width_to_two_digits(low, high, decimals):
    assert n.decimals_for(low, high) == decimals


def test_fixed_has_a_true_minus_sign_and_no_negative_zero():
    assert n.fixed(-1.25, 1) == "−1.2"
    assert n.fixed(-0.04, 1) == "0.0"
    assert n.fixed(None, 1) == n.fixed(math.nan, 1) == n.fixed(math.inf, 1) == "—"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0004567, "0.000457"),
        (9.999, "10.0"),
        (1234.6, "1235"),
        (-2.5e8, "−2.50 × 10⁸"),
        (-0.5, "−0.500"),
        (0.0, "0"),
        (1e-9, "1.00 × 10⁻⁹"),
        (None, "—"),
    ],
)
def test_significant_digits(value, text):
    assert n.significant(value, 3) == text


@pytest.mark.parametrize(
    ("p", "text"),
    [
        (0.0, "p < 0.001"),
        (0.00099, "p < 0.001"),
        (0.001, "p = 0.001"),
        (0.0994, "p = 0.099"),
        (0.0996, "p = 0.10"),
        (0.34, "p = 0.34"),
        (0.995, "p > 0.99"),
        (1.0, "p > 0.99"),
        (None, "p not available"),
        (math.nan, "p not available"),
    ],
)
def test_p_is_never_zero(p, text):
    assert n.p_value(p) == text


@pytest.mark.parametrize(
    ("unit", "text"),
    [("deg", "2.3°"), ("mm", "2.3\N{NO-BREAK SPACE}mm"), ("ratio", "2.3"), ("", "2.3"), ("kPa", "2.3\u00a0kPa")],
)
def test_units_are_written_for_readers(unit, text):
    assert n.with_unit("2.3", unit) == text


def test_estimate_and_interval_share_their_decimals():
    row = {"estimate": 2.3123, "low": 1.0211, "high": 3.6}
    assert n.estimate(row, "deg") == "2.3°"
    assert n.interval(row, "deg") == "1.0° to 3.6°"
    assert n.estimate_interval(row) == "2.3 (1.0 to 3.6)"
    assert n.estimate_interval(None) == "—"
    assert n.interval({"estimate": 1.0, "low": None, "high": None}) == "no interval"


def test_a_limit_near_zero_is_not_shown_as_zero():
    assert n.interval({"estimate": 1.2, "low": 0.0052, "high": 2.41}, "deg") == "0.005° to 2.4°"
    assert n.interval({"estimate": -1.2, "low": -2.41, "high": -0.0052}) == "−2.4 to −0.005"
    assert n.interval({"estimate": 1.2, "low": 0.0, "high": 2.41}) == "0.0 to 2.4"


@pytest.mark.parametrize(
    ("part", "whole", "text"),
    [(31, 922, "3%"), (1, 922, "below 1%"), (0, 5, "0%"), (921, 922, "above 99%"), (5, 5, "100%"), (0, 0, "—")],
)
def test_percentages_neither_vanish_nor_fill_up(part, whole, text):
    assert n.percent(part, whole) == text


def test_words_and_lists():
    assert n.listing([]) == "none"
    assert n.listing(["a"]) == "a"
    assert n.listing(["a", "b", "c"]) == "a, b and c"
    assert n.of_things(1, "foot", "feet") == "1 foot"
    assert n.of_things(2, "foot", "feet") == "2 feet"
    assert n.count(12345) == "12\N{NARROW NO-BREAK SPACE}345"
    assert n.df_text(None) == "∞"
    assert n.df_text(3.24) == "3.2"
    assert n.df_text(318.4) == "318"
    assert n.percent_level(0.95) == "95%"
    assert n.percent_level(0.999) == "99.9%"
    assert n.in_unit("deg") == ", in degrees"
    assert n.in_unit("ratio") == ""


def test_below_one_degree_of_freedom_there_is_no_interval():
    row = {"estimate": 1.234, "low": -2.0e150, "high": 2.0e150, "df": 0.02}
    assert not n.has_interval(row)
    assert n.estimate_interval(row) == "1.2 (no interval)"
    assert n.has_interval(row | {"low": 1.0, "high": 2.0, "df": 1.0})
    assert n.has_interval({"low": 1.0, "high": 2.0, "df": None})
    assert not n.has_interval(None)
