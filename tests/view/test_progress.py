"""The line that tells how far a search has come: what it shows, and that what is stored never changes."""

from acoustics.tuning.search import search
from acoustics.view.progress import Progress
from tests.tuning.bench import bench
from tests.tuning.test_search import TWENTY


def test_told_while_searching(monkeypatch):
    shown, clock = [], iter(range(10_000))
    monkeypatch.setattr("acoustics.view.progress.time.monotonic", lambda: float(next(clock)))
    line = Progress("Holes")
    line.line.observe(lambda change: shown.append(change["new"]), "value")
    found = search(bench(), {name: TWENTY[name] for name in ("A size", "A position")}, progress=line)
    line.done(found.stopped)
    assert shown[0].startswith("Holes: 1 charts made, the best so far ")
    assert shown[-2].endswith(f"the best so far {found.rms_cents:.1f} cents rms")
    assert shown[-1] == "Holes: done."
    assert not found.stopped


def test_not_at_every_chart():
    """Charts within a fifth of a second of the last one shown are not."""
    line, shown = Progress(), []
    line.line.observe(lambda change: shown.append(change["new"]), "value")
    for charts in range(1, 200):
        assert line(charts, 10.0) is False
    assert 1 <= len(shown) < 20


def test_stored_words_do_not_change():
    line = Progress("Holes")
    before = line._repr_mimebundle_()["text/plain"]
    line(57, 3.2)
    line.done(stopped=True)
    assert line.line.value == "Holes: stopped; the best so far is kept."
    assert line._repr_mimebundle_()["text/plain"] == before == repr(line)
    assert "57" not in before
