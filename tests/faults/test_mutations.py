"""Two thousand damaged inputs of every form: no traceback, no silence, no gate opened."""

from __future__ import annotations

import pytest

from tests.faults.mutations import CASES, draw, run, sound_folder

CHUNKS, EACH = 20, 100


@pytest.fixture(scope="module")
def folders():
    with sound_folder() as made:
        yield made


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_damaged_input_ends_in_an_answer_or_in_words_and_never_opens(folders, chunk):
    sound, work = folders
    outcomes = [run(case, seed, sound, work) for case, seed in draw(EACH, chunk * EACH)]
    assert [one for one in outcomes if one.wrong is not None] == []
    assert len({one.status for one in outcomes}) > 1


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_each_form_is_read_where_nothing_is_damaged(folders, case, monkeypatch):
    """Else the damage would not be what is refused."""
    sound, work = folders
    monkeypatch.setattr("tests.faults.mutations.damage", lambda content, _: content)
    outcome = run(case, 1, sound, work)
    assert outcome.wrong is None
    assert outcome.status in ({1} if case.arguments[0] == "today" else {0})
