"""Cautions beside the moves of the bench."""

from acoustics.bench.moves import BY_KINDNESS, GENTLE, moves
from acoustics.shop import cautions
from tests.tuning.bench import bench


def test_every_cut_and_every_flame_is_minded():
    for move in moves(bench()):
        said = cautions.at_moves(move.kind, move.cause)
        assert said[-1] == cautions.LAW
        if move.kind != GENTLE:
            assert cautions.DUST in said
        if "ream" in move.words:
            assert cautions.REAMER in said
        if "roll another staple" in move.words:
            assert {cautions.TORCH, cautions.SILVER, cautions.PICKLE, cautions.LICENSED} <= set(said)
        if "bridle" in move.words or "blades" in move.words:
            assert cautions.KNIFE in said


def test_each_line_stands_once():
    said = cautions.at_moves(*BY_KINDNESS, *cautions.AT_MOVES)
    assert len(said) == len(set(said))
    assert cautions.at_moves() == (cautions.LAW,)


def test_every_name_is_a_kind_of_move_or_what_one_touches():
    known = set(BY_KINDNESS) | {move.cause for move in moves(bench())}
    assert set(cautions.AT_MOVES) <= known
