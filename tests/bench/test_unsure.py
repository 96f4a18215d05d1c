"""A note that no other published model follows: its prediction is not known, in numbers, table, picture and log."""

from dataclasses import replace

import numpy as np
import pytest

import acoustics.bench.actions as actions
from acoustics.bench.log import Log
from acoustics.bench.records import new_records
from acoustics.tuning.dials import DIALS
from acoustics.tuning.free import turned
from acoustics.tuning.uncertainty import model_spread
from acoustics.view.bench_charts import plot_change
from tests.bench.simulated import FOURTEEN, read
from tests.tuning.bench import bench, demo


@pytest.fixture(scope="module")
def readings():
    return read(turned(bench(), {DIALS["insertion"]: 17.0}), 1.0, np.random.default_rng(0), FOURTEEN)


@pytest.fixture(scope="module")
def plan(readings):
    """Every rival loses the second note, and one the first."""

    def losing(setup, rivals):
        spread = model_spread(setup, rivals)
        cents = spread.cents.copy()
        cents[:, 1] = cents[0, 0] = np.nan
        return replace(spread, cents=cents)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(actions, "model_spread", losing)
        return actions.what_to_change(bench(), readings, most=1)


def test_its_error_has_no_end(plan):
    (one,) = plan.suggestions
    assert np.flatnonzero(~np.isfinite(one.errors)).tolist() == [1]
    assert np.isposinf(one.errors[1])


def test_table_and_picture_say_so(plan):
    assert plan._repr_html_().count("± not known") == 1
    line = plot_change(plan).words.splitlines()[3]
    assert line.startswith(plan.notes[1])
    assert line.endswith("not known  no clear reading")


def test_the_log_keeps_the_note_without_an_error(readings, plan):
    noted = new_records(Log("none.toml", (), ()), demo(), "3 May", readings, plan)[-1].cents
    assert len(noted) == len(plan.notes)
    assert [one.error_cents is None for one in noted[:3]] == [False, True, False]
