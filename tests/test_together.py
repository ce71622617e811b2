"""Several models climbed together: each ends where it ends alone."""

import numpy as np
import pytest
from fairloaf.analysis.mixed_model.fitting import NoVariation, fit_reml, prepare
from fairloaf.analysis.mixed_model.together import fit_together


def many_models(rng):
    """Models that have nothing in common but that loaves share days and mixes, or mixes alone; of 2
    to 7 columns.
    """
    for i in range(14):
        mix = np.repeat(np.arange(6 + i % 4), 4)[rng.random(4 * (6 + i % 4)) < 0.85]
        n, day = len(mix), mix // 2
        more = i % 2 + 4 * (i % 5 == 0)
        columns = [np.ones(n), mix % 2, *rng.normal(size=(more, n))]
        groups = {"day": day, "mix": mix} if i % 3 else {"mix": mix}
        noise = rng.normal(size=mix.max() + 1)[mix] * (i % 2) + rng.normal(size=n)
        yield np.column_stack(columns), groups, 4 + noise


def test_each_of_many_models_ends_where_it_ends_alone():
    models = [
        (prepare(X, groups), X, groups, y) for X, groups, y in many_models(np.random.default_rng(3))
    ]
    fits = fit_together([model for model, *_ in models], [y[:, None] for *_, y in models])
    below = 0
    for found, (_, X, groups, y) in zip(fits, models, strict=True):
        alone = fit_reml(y, X, groups)
        below += bool(alone.negative)
        assert found.converged[0] == alone.converged
        assert found.variances[0] == pytest.approx(list(alone.variances.values()), rel=1e-7)
        assert found.log_likelihood[0] == pytest.approx(alone.log_likelihood, abs=1e-9)
        L = np.eye(X.shape[1])[1]
        asked, told = found.contrast(L), alone.contrast(L)
        assert [part[0] for part in asked] == pytest.approx(
            [told.estimate, told.standard_error, told.df], rel=1e-6, nan_ok=True
        )
    assert 0 < below < len(models)  # climbs of either kind stood beside one another


def test_a_response_that_is_reproduced_exactly_is_said_to_be_so_among_others():
    rng = np.random.default_rng(4)
    mix = np.repeat(np.arange(6), 3)
    X = np.column_stack([np.ones(18), mix % 2])
    model = prepare(X, {"mix": mix})
    exact, varied = 2 + 3 * X[:, 1], rng.normal(size=18)
    fits = fit_together([model, model], [exact[:, None], varied[:, None]])
    assert [bool(fit.no_variation[0]) for fit in fits] == [True, False]
    with pytest.raises(NoVariation):
        model.fit(exact)
    assert fits[1].variances[0] == pytest.approx(list(model.fit(varied).variances.values()))
