"""Laps alike their neighbours, cold tyres and sessions that are off: how often what is claimed is right."""

from __future__ import annotations

import numpy as np
import pytest
from many_days import compared
from scipy import special, stats

from vdlib.checks import InputError
from vdlib.laps import bootstrap, clubday
from vdlib.laps.alike import allow_for_likeness, error_function, plan_reach, quantile_of_t
from vdlib.laps.bootstrap import estimate
from vdlib.laps.evidence import compare, slow_starts, widened
from vdlib.laps.evidence_words import conclude
from vdlib.laps.laps import Section, Session
from vdlib.panels import day_laps, day_sessions

_, GRIP, *_ = day_sessions.INVENTED


def session(times, name="laps"):
    return Session(name, np.asarray(times, dtype=float), np.ones(len(times), dtype=bool))


def days(seed, count, sizes, likeness, spread=0.35, offset=0.0, change=0.0):
    """Lap times of many days: each lap is like the one before, also across the breaks; sessions may be off."""
    rng = np.random.default_rng(seed)
    group = np.repeat(np.arange(len(sizes)), sizes)
    noise = rng.standard_normal((count, len(group)))
    for i in range(1, len(group)):
        noise[:, i] = likeness * noise[:, i - 1] + np.sqrt(1 - likeness**2) * noise[:, i]
    off = offset * rng.standard_normal((count, len(sizes)))
    return np.split(95 + spread * noise + off[:, group] + change * (group == 1), np.cumsum(sizes)[:-1], axis=1)


def claims(seed, count, sizes, likeness, offset=0.0, change=0.0, draws=299):
    laps = days(seed, count, sizes, likeness, offset=offset, change=change)
    found = compared(laps, draws=draws, offset=offset)
    return float(np.mean([c.verdict != "not shown" for c in found])), found


def claimed(seed, count, sizes, likeness, offset=0.0, change=0.0):
    """Share of days on which a change is claimed, and on which the likeness's interval holds the true one.

    Nothing is claimed where that interval holds zero, so only the other days are compared in full.
    """
    laps = days(seed, count, sizes, likeness, offset=offset, change=change)
    design, contrast, group, number = plain(sizes)
    y = np.concatenate(laps, axis=1)
    found = [allow_for_likeness(one, design, contrast, group, number, offset).change for one in y]
    open_ones = [d for d, one in enumerate(found) if bool(one.shown)]
    full = [compare(*(session(s[d]) for s in laps), seed=d, draws=299, offset=offset) for d in open_ones]
    share = sum(c.verdict != "not shown" for c in full) / count
    return share, float(np.mean([one.low <= change <= one.high for one in found]))


def plain(sizes):
    group = np.repeat(np.arange(len(sizes)), sizes)
    design = (group[:, None] == np.arange(len(sizes))).astype(float)
    contrast = np.array([-1.0, 1.0] if len(sizes) == 2 else [-0.5, 1.0, -0.5])
    return design, contrast, group, np.concatenate([np.arange(n, dtype=float) for n in sizes])


@pytest.mark.analytic
@pytest.mark.parametrize("free", [4, 5, 10, 30, 100])
def test_the_quantile_of_t_is_scipys(free):
    assert quantile_of_t(free) == pytest.approx(stats.t.ppf(0.975, free), rel=0.01)


@pytest.mark.analytic
def test_the_error_function_is_scipys():
    x = np.linspace(-6, 6, 4001)
    np.testing.assert_allclose(error_function(x), special.erf(x), atol=1.6e-7)


@pytest.mark.analytic
def test_with_independent_laps_known_to_be_so_a_plan_reaches_what_welch_says():
    half, found = plan_reach([8, 8], 0.4)
    error = 0.4 * np.sqrt(2 / 8)
    assert half == pytest.approx(stats.t.ppf(0.975, 14) * error, rel=0.005)
    assert found == pytest.approx(half + stats.norm.ppf(0.8) * error, rel=0.005)
    # variance of a mean of n laps alike with ρ: σ²/n·(1 + 2·Σ(1 − k/n)·ρ^k); the best weighing is a little better
    rho, n = 0.8, 8
    mean = 0.4**2 / n * (1 + 2 * sum((1 - k / n) * rho**k for k in range(1, n)))
    wide = plan_reach([8, 8], 0.4, rho)[0] / stats.t.ppf(0.975, 14)
    assert 0.93 * np.sqrt(2 * mean) < wide <= np.sqrt(2 * mean) * 1.001
    assert plan_reach([8, 8, 8], 0.4, 0.0, 0.25)[0] ** 2 == pytest.approx(
        plan_reach([8, 8, 8], 0.4)[0] ** 2 + (stats.t.ppf(0.975, 21) * 0.25) ** 2 * 1.5, rel=0.01
    )
    with pytest.raises(InputError, match="drive more laps"):
        plan_reach([1, 0], 0.4)


@pytest.mark.analytic
def test_the_correlation_is_measured():
    design, contrast, group, number = plain((40, 40))
    for rho in (0.0, 0.5, 0.8):
        y = np.concatenate(days(3, 30, (40, 40), rho), axis=1).T
        found = allow_for_likeness(y, design, contrast, group, number).correlation
        assert np.mean(found.value) == pytest.approx(rho, abs=0.12)
        assert np.mean((found.low - 0.05 <= rho) & (rho <= found.high)) > 0.85


def test_the_offset_is_the_users_and_widens_the_interval():
    design, contrast, group, number = plain((8, 8, 8))
    y = np.concatenate(days(1, 1, (8, 8, 8), 0.3), axis=1)[0]
    widths = []
    for offset in (0.0, 0.25, 0.5):
        one = allow_for_likeness(y, design, contrast, group, number, offset).change
        widths.append(one.high - one.low)
    assert widths[0] < widths[1] < widths[2]
    with pytest.raises(InputError, match="zero or more"):
        allow_for_likeness(y, design, contrast, group, number, -1.0)


@pytest.mark.analytic
def test_laps_alike_their_neighbours_are_seldom_called_a_change_and_real_ones_are_found():
    for sizes in ((8, 8), (8, 8, 8)):
        share, found = claims(5, 120, sizes, 0.8)
        assert share <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / 120)
        naive = np.mean([bool(c.plain.shown) for c in found])
        assert naive > 0.2  # what was called a change before
        assert "Neighbouring laps are alike" in " ".join(conclude(found[0]))
    share, _ = claims(6, 80, (8, 8, 8), 0.8, offset=0.25, change=1.2)
    assert share >= 0.6 - 2 * np.sqrt(0.6 * 0.4 / 80)


SECTIONS = tuple(Section(f"s{i}", "corner" if i % 2 else "straight", 100.0 * i, 100.0 * i + 100) for i in range(8))


def driven(rng, sizes, likeness):
    """Sessions with nothing changed: section times and lowest speeds alike their neighbours, half of it in common."""

    def walk(columns):
        noise = rng.standard_normal((sum(sizes), columns))
        for i in range(1, len(noise)):
            noise[i] = likeness * noise[i - 1] + np.sqrt(1 - likeness**2) * noise[i]
        return noise

    ends = np.cumsum(sizes)[:-1]
    times = np.split(11 + 0.1 * (np.sqrt(0.75) * walk(8) + 0.5 * walk(1)), ends)
    speeds = np.split(25 + 0.4 * walk(4), ends)
    names = tuple("abcd")
    return [
        Session("laps", t.sum(axis=1), np.ones(len(t), dtype=bool), SECTIONS, t, names, v)
        for t, v in zip(times, speeds, strict=True)
    ]


@pytest.mark.analytic
@pytest.mark.parametrize(("likeness", "days"), [
    (0.8, 60), pytest.param(0.8, 120, marks=pytest.mark.slow), pytest.param(0.0, 60, marks=pytest.mark.slow),
])  # fmt: skip
def test_sections_kinds_and_corners_hold_the_truth_at_least_so_often(likeness, days):
    """All days share one set of draws; two of them are compared as a day alone is, and give the same intervals."""
    rng = np.random.default_rng(12)
    sizes = (8, 8, 8)
    design, contrast, group, number = plain(sizes)
    every = [driven(rng, sizes, likeness) for _ in range(days)]

    def together(held):
        return np.stack([np.concatenate([held(s) for s in day]) for day in every], axis=1)  # (laps, days, …)

    def change_of(y):
        return estimate(y, design, contrast, group, 1, 199)

    time = together(lambda s: s.lap_time)
    wide = allow_for_likeness(time, design, contrast, group, number).change
    known = change_of(time)
    least = np.maximum((wide.high - wide.low) / (known.high - known.low), 1.0)
    kinds = ("corner", "straight")
    shares = {}
    for name, held, found in (
        ("section", lambda s: s.section_time, "parts"),
        ("kind", lambda s: np.stack([s.section_time[:, i::2].sum(axis=1) for i in (1, 0)], axis=1), "kinds"),
        ("corner", lambda s: s.minimum_speed, "minimum_speed"),
    ):
        y = together(held)
        each = y.shape[2]
        flat = y.reshape(len(y), -1)
        span = widened(change_of(flat), flat, design, contrast, group, number, np.repeat(least, each))
        shares[name] = float(np.mean((span.low <= 0) & (span.high >= 0)))
        for day in (0, days - 1):
            alone = getattr(compare(*every[day], seed=1, draws=199), found)
            assert [p.change.low for p in alone] == pytest.approx(span.low[day * each : (day + 1) * each])
            assert [p.change.high for p in alone] == pytest.approx(span.high[day * each : (day + 1) * each])
            assert found != "kinds" or tuple(p.kind for p in alone) == kinds
    print(likeness, shares)
    assert all(share >= 0.93 - 0.02 for share in shares.values())  # of at least 120 figures, not all independent


@pytest.mark.analytic
def test_columns_are_compared_as_one_by_one():
    design, contrast, group, number = plain((8, 6, 7))
    y = np.concatenate(days(9, 5, (8, 6, 7), 0.4), axis=1).T
    y[:, 2] = 3.0  # alike to the last digit
    together = allow_for_likeness(y, design, contrast, group, number, 0.1)
    for k in range(5):
        one = allow_for_likeness(y[:, k], design, contrast, group, number, 0.1)
        for both, single in ((together.change, one.change), (together.correlation, one.correlation)):
            for end in ("value", "low", "high", "p"):
                assert getattr(both, end)[k] == pytest.approx(getattr(single, end), abs=1e-9)


@pytest.mark.slow
def test_corners_without_a_change_are_marked_on_at_most_five_of_a_hundred():
    rng = np.random.default_rng(19)
    for sizes in ((8, 8), (8, 8, 8)):
        for likeness in (0.0, 0.5, 0.8):
            marked = []
            for d in range(500):
                found = compare(*driven(rng, sizes, likeness), seed=d, draws=199)
                marked += [bool(p.change.shown) for p in found.minimum_speed]
            print(sizes, likeness, "marked", np.mean(marked))
            assert np.mean(marked) <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / len(marked))


@pytest.mark.slow
def test_false_claims_over_two_thousand_days():
    """And the interval holds the truth on 95 to 100 days of 100: so few laps cannot say that they are not alike."""
    for sizes in ((8, 8), (8, 8, 8), (15, 15)):
        for likeness in (0.0, 0.3, 0.5, 0.8):
            for offset in (0.0, 0.25):
                share, cover = claimed(17, 2000, sizes, likeness, offset)
                print(sizes, likeness, offset, "claimed", share, "cover", cover)
                assert share <= 0.05
                assert cover >= 0.95 - 2 * np.sqrt(0.05 * 0.95 / 2000)
    share, cover = claimed(18, 1000, (8, 8, 8), 0.8, offset=0.25, change=1.2)
    print("1.2 s found on", share, "cover", cover)
    assert share >= 0.6
    assert cover >= 0.94


@pytest.mark.analytic
def test_cold_tyres_bias_the_figure_to_go_by_and_a_rule_made_beforehand_mends_it():
    count, sizes = 150, (8, 8)
    laps = [s.copy() for s in clubday.lap_times(31, count, sizes, change=-0.4, learning=0.35)]
    for s in laps:
        s[:, 0] += 2.0
        s[:, 1] += 0.7
    held = {}
    for rule in (0, 2):
        found = compared(laps, draws=299, by_rule=rule)
        held[rule] = np.mean([c.best.low <= -0.4 <= c.best.high for c in found])
        assert found[0].laps == (8 - rule,) * 2
        assert found[0].left_out == (0, 0)
    assert held[2] >= 0.89  # 94 % and two standard errors
    print(held)
    assert held[0] < 0.6
    slow, more = slow_starts([session(s[0]) for s in laps])
    assert slow in (1, 2, 3)
    assert more == pytest.approx(2.0, abs=0.6)
    assert slow_starts([session(s[0]) for s in clubday.lap_times(31, 1, sizes)]) == (0, 0.0)
    assert "the first 2 laps of each session never counted, by rule" in " ".join(conclude(found[0]))


def test_laps_that_may_only_be_alike_are_withheld_in_words():
    y = days(8, 40, (8, 8, 8), 0.8)
    found = compared(y, draws=299)
    one = next(c for c in found if c.withheld)
    assert one.verdict == "not shown"
    assert "that much could come of laps alike their neighbours" in " ".join(conclude(one))
    assert one.fits.high - one.fits.low >= one.plain.high - one.plain.low


def test_cornering_and_sideways_acceleration_are_widened_by_their_own_likeness():
    found = day_laps.judge_day(day_sessions.invented(GRIP, 4), "usual")
    each, _ = day_laps.cornering(found.day)
    group = np.repeat(np.arange(3), [int(s.clear.sum()) for s in found.sessions])
    design = (group[:, None] == np.arange(3)).astype(float)
    y = np.concatenate([v[s.clear] for v, s in zip(each, found.sessions, strict=True)])
    contrast = np.array([-0.5, 1.0, -0.5])
    plain = bootstrap.estimate(y, design, contrast, group)
    number = np.concatenate([np.flatnonzero(s.clear) for s in found.sessions]).astype(float)
    own = allow_for_likeness(y, design, contrast, group, number).change
    by = max(found.change.wider, (own.high - own.low) / (plain.high - plain.low))
    assert by > 1
    for end in ("low", "high"):
        far = getattr(plain, end) - plain.value
        assert getattr(found.level, end) - found.level.value == pytest.approx(by * far)
    assert len(found.lateral) == len(found.day.course.corners)


@pytest.mark.analytic
@pytest.mark.parametrize("days", [3, pytest.param(6, marks=pytest.mark.slow)])
def test_cornering_level_finds_what_was_put_in(days):
    # 5 % more sideways acceleration is 100·ln 1.05 = 4.88; a 95 % interval misses on 1 day of 20: one may miss
    held = []
    for number in range(1, days + 1):
        level = day_laps.judge_day(day_sessions.invented(GRIP, number), "usual").level
        print(level)
        held.append(level.low <= 100 * np.log(1.05) <= level.high)
    assert sum(held) >= days - 1
