"""Owns the proof that draws weigh what they should: each density drawn from is one, and all of them tell one evidence.

Identities of arithmetic, no source: of draws x from a density q, the mean of p(x) / q(x) is one for any density p that q
covers, and the mean of likelihood times p(x) / q(x) is the evidence whatever q is.
"""

import numpy as np
import pytest

from engine.batches import tempered
from engine.before import Before
from engine.bells import about_draws
from engine.drawn import Mixture, draws_of, drawn_from
from engine.first import First
from engine.likelihood import Evidence
from engine.model import Model, canonical
from engine.proposal import finer, fit_rows
from engine.readings import Reading
from engine.refine import LAID_ON
from engine.samples import Samples
from engine.straight import Straight

from .accuracy_circuits import setup

DRAWS = 16_384
# Number of rows proven of each job, the likeliest ones.
ROWS = 8
JOBS = {
    "one number, input and curve unknown": (setup(known=False), (Reading("as-found", shows=9.0),)),
    "three numbers": (setup(), (Reading("as-found", shows=9.0), Reading("unplugged", shows=-40.0), Reading("substitute", ohm=330.0, shows=70.0))),
    "a thermometer beside the part": (setup(), (Reading("as-found", shows=9.0), Reading("sensor-ohms", ohms=3100.0, at=(18.0, "degC")))),
}


@pytest.fixture(scope="module", params=JOBS)
def fits(request):
    """Evidence, the likeliest rows, their first draws and their finer nodes."""
    circuit, readings = JOBS[request.param]
    model = Model(circuit)
    evidence = Evidence(model, canonical(readings))
    fit = fit_rows(evidence)
    ln = (fit.ln_evidence + model.ln_chance)[fit.rows]
    at = np.sort(np.argsort(-ln, kind="stable")[:ROWS])
    drawn = draws_of(evidence, Straight(fit.nodes_of(fit.rows[at])), fit.rows[at], DRAWS)
    return evidence, drawn, finer(evidence, fit.nodes_of(drawn.rows), drawn.rows, drawn.share, drawn.z, tempered(drawn.ln_weight, LAID_ON))


def densities(evidence, drawn, fine):
    return {"straight": drawn.laid[0], "finer": Straight(fine), "before": Before(),
            "bells": about_draws(evidence, drawn.rows, drawn.share, drawn.z, drawn.ln_weight)}


def some(evidence, drawn):
    """The first 64 of those draws alone."""
    return draws_of(evidence, drawn.laid[0], drawn.rows, 64)


def test_nothing_is_lost_and_nothing_counted_twice(fits):
    # Bells keep no part of the density from before measuring, and do not cover it.
    evidence, drawn, fine = fits
    for name, density in densities(evidence, drawn, fine).items():
        share, z, ln = density.draw(evidence, drawn.rows, DRAWS, 0)
        again = density.ln_over_prior(evidence, drawn.rows, share, z)
        # Where bells are, severities are normals to seven digits, and the tightest bells a thousandth wide.
        exact = 1e-3 if name == "bells" else 1e-5
        # A severity next to an end of its range is not told from one a little nearer.
        assert np.quantile(np.abs(ln - again), 0.9999) < exact, name
        assert np.abs(ln - again).mean() < exact / 10.0, name
        if name != "bells":
            # No weight is above 1 / 0.15, so the mean of as many is known to 0.02 (one standard deviation).
            np.testing.assert_allclose(np.exp(-ln).mean(axis=1), 1.0, atol=0.06, err_msg=name)


def test_the_evidence_is_one_however_it_is_drawn(fits):
    evidence, drawn, fine = fits
    told = {}
    for name, density in densities(evidence, drawn, fine).items():
        beside = some(evidence, drawn).beside(evidence, density, DRAWS)
        told[name] = beside.ln_evidence, beside.effective
        assert beside.counts == (64, DRAWS)
    for name, (ln, effective) in told.items():
        other, worth = told["finer"]
        error = np.sqrt(1.0 / effective + 1.0 / worth)
        # Few heavy draws are worth less than they seem, and from before measuring draws tell only where little was measured.
        tells = (effective > 300) & (worth > 300)
        assert tells.sum() >= 2 or (name == "before" and len(evidence.terms) > 1), name
        assert (np.abs(ln - other) < 6.0 * error)[tells].all(), (name, ln, other, effective, worth)


def test_more_of_the_same_is_as_good_as_all_at_once(fits):
    evidence, drawn, fine = fits
    for density in (Straight(fine), densities(evidence, drawn, fine)["bells"], Before()):
        once = some(evidence, drawn).beside(evidence, density, 1024)
        twice = some(evidence, drawn).beside(evidence, density, 256).more(evidence, 768)
        np.testing.assert_allclose(twice.ln_weight, once.ln_weight, atol=1e-5)


def test_what_draws_from_before_measuring_are_worth_is_told_without_making_any(fits):
    evidence, drawn, _ = fits
    first = First(evidence, drawn.laid[0], drawn.rows)
    first.more(np.arange(ROWS), np.full(ROWS, 4096))
    before = draws_of(evidence, Before(), drawn.rows, DRAWS)
    found = np.abs(before.ln_evidence - first.ln_evidence) < 0.3
    tells = (first.effective > 200) & (before.effective > 100) & found
    assert tells.sum() >= 2 or len(evidence.terms) > 1
    told = first.worth_before * DRAWS
    assert ((told > 0.6 * before.effective) & (told < 1.6 * before.effective))[tells].all(), (told, before.effective)
    # Where they miss what readings hold tightly they seem to be worth more than they are: the others know.
    missed = (first.effective > 200) & (before.ln_evidence < first.ln_evidence - 1.0)
    assert (told < before.effective)[missed].all(), (told, before.effective)


def test_bells_about_draws_are_judged_by_fresh_ones(fits):
    # A draw weighs too little by a bell laid about itself: evidence from those very draws is too small, from fresh ones it is not.
    evidence, drawn, fine = fits
    straight = some(evidence, drawn).beside(evidence, Straight(fine), 512)
    bells = straight.beside(evidence, about_draws(evidence, straight.rows, straight.share, straight.z, straight.ln_weight), 512)
    fresh = draws_of(evidence, Mixture(bells.laid, (16, 128, 512), bells.share.shape[1]), bells.rows, DRAWS)
    finer_ones = some(evidence, drawn).beside(evidence, Straight(fine), DRAWS)
    tells = (fresh.effective > 300) & (finer_ones.effective > 300)
    error = np.sqrt(1.0 / fresh.effective + 1.0 / finer_ones.effective)
    assert tells.sum() >= 2 and (np.abs(fresh.ln_evidence - finer_ones.ln_evidence) < 6.0 * error)[tells].all()


def test_the_best_parts_of_a_mixture_are_worth_what_was_foretold(fits):
    evidence, drawn, fine = fits
    both = drawn.beside(evidence, Straight(fine), DRAWS)
    parts, share = both.best_parts()
    assert parts.shape == (ROWS, 2) and parts.sum(axis=1) == pytest.approx(1.0) and (parts[:, 0] >= 0.1 - 1e-9).all()
    # Few heavy draws foretell little.
    told = both.effective > 2000.0
    assert told.sum() >= 2
    for k in np.flatnonzero(told):
        at = np.array([k])
        fresh = draws_of(evidence, Mixture(tuple(density.only(at) for density in both.laid), tuple(np.maximum(parts[k], 1e-9)), 2 * DRAWS),
                         both.rows[at], DRAWS)
        assert 0.5 < fresh.effective[0] / (share[k] * DRAWS) < 2.0
        # No worse than either alone, but for the part from the first in any case.
        alone = max(draws_of(evidence, density.only(at), both.rows[at], DRAWS).effective[0] for density in both.laid)
        assert fresh.effective[0] > 0.6 * alone


def test_first_draws_are_the_same_however_many_are_made_at_once(fits):
    evidence, drawn, _ = fits
    f = np.arange(ROWS)
    once, parts = (First(evidence, drawn.laid[0], drawn.rows) for _ in range(2))
    once.more(f, np.full(ROWS, 4096))
    parts.more(f[::2], np.full(ROWS // 2, 1024))
    parts.more(f, np.where(f % 2, 4096, 3072))
    for count in (1000, 4096, 5000):
        for row in drawn.rows:
            for a, b in zip(once.of(row, count), parts.of(row, count), strict=True):
                np.testing.assert_array_equal(a, b)
                assert len(a) == min(count, 4096)
    np.testing.assert_allclose(parts.ln_evidence, once.ln_evidence, rtol=1e-9)
    np.testing.assert_allclose(parts.effective, once.effective, rtol=1e-9)
    # They are the same draws, weighed as one density's own.
    alone = draws_of(evidence, drawn.laid[0], drawn.rows, 4096)
    np.testing.assert_allclose(once.ln_evidence, alone.ln_evidence, atol=1e-6)
    weight = np.exp(alone.ln_weight - alone.ln_weight.max(axis=1, keepdims=True))
    np.testing.assert_allclose(once.effective, weight.sum(axis=1) ** 2 / (weight ** 2).sum(axis=1), rtol=1e-6)
    # What they count for while more are asked for is what they count for in the end.
    in_the_end = Samples([(part, np.ones(len(part.rows), bool)) for part in parts.parts])
    np.testing.assert_allclose(parts.held(f), in_the_end.effective, rtol=1e-9)
    np.testing.assert_allclose(alone.effective, in_the_end.effective, rtol=1e-6)


@pytest.mark.parametrize("least", [8.0, 25.0])
def test_weights_are_made_as_even_as_asked_and_even_ones_left_alone(least):
    rng = np.random.default_rng(3)
    ln_weight = rng.normal(size=(4, 1024)) * np.array([[0.1], [4.0], [20.0], [200.0]])
    weight = tempered(ln_weight, least)
    np.testing.assert_allclose(weight.sum(axis=1), 1.0)
    np.testing.assert_allclose(weight[0], np.exp(ln_weight[0]) / np.exp(ln_weight[0]).sum(), rtol=1e-6)
    np.testing.assert_allclose(1.0 / (weight[1:3] ** 2).sum(axis=1), least, rtol=0.1)
    # The order stays.
    assert all((np.argsort(one) == np.argsort(other)).all() for one, other in zip(weight[:2], ln_weight[:2], strict=True))


def test_draws_taken_over_weigh_what_they_did(fits):
    evidence, drawn, _ = fits
    again = drawn_from(evidence, drawn.laid[0], drawn.rows, drawn.share, drawn.z, drawn.ln_weight)
    np.testing.assert_allclose(again.ln_weight, drawn.ln_weight, atol=1e-9)
    np.testing.assert_allclose(again.ln_each[0], drawn.ln_each[0], atol=1e-5)
    assert again.counts == (DRAWS,)


def test_some_draws_of_a_mixture_come_from_all_over_it_and_weigh_the_same(fits):
    evidence, drawn, fine = fits
    straight, finer_ones, _, bells = densities(evidence, drawn, fine).values()
    every = draws_of(evidence, Mixture((straight, finer_ones, bells), (300, 100, 600), 0), drawn.rows, 4096)
    some_of_them = every.latest(evidence, 1024)
    np.testing.assert_array_equal(some_of_them.share, every.share[:, ::4])
    assert some_of_them.laid == every.laid[0].laid
    # Bells tell densities to seven digits, the tightest of them a thousandth wide.
    np.testing.assert_allclose(some_of_them.ln_weight, every.ln_weight[:, ::4], atol=1e-3)


def test_rows_taken_out_are_as_if_laid_alone(fits):
    _, _, fine = fits
    at, whole = np.array([1, 4]), Straight(fine)
    assert len(whole.bells.part) == ROWS
    for mine, alone in zip(whole.only(at).bells, Straight(fine.only(at)).bells, strict=True):
        np.testing.assert_array_equal(mine, alone)


def test_unknowns_left_out_are_at_their_mean(fits):
    evidence, drawn, _ = fits
    some_of = np.array([k for k in evidence.active if k % 2])
    z = np.zeros(drawn.z.shape)
    z[..., some_of] = drawn.z[..., some_of]
    np.testing.assert_array_equal(evidence.weigh(drawn.share, z[..., some_of], drawn.rows, some_of), evidence.weigh(drawn.share, z, drawn.rows))
