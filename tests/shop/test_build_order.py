"""The build order: holes never before the reed they are for, regulators never before the drones."""

from acoustics.shop.build_order import BUILD_ORDER


def place(words: str) -> int:
    (found,) = [i for i, step in enumerate(BUILD_ORDER) if words in step.does]
    return found


def test_what_comes_before_what():
    order = [
        "the chanter's bore",
        "the chanter's reed",
        "Drill the chanter's holes",
        "key seats",
        "Open the chanter's holes",
        "Cut the drones' tubes",
        "Bend or fold",
        "Draw the slides",
        "the regulators' bores",
        "Drill the regulators' holes",
        "Set the stoppers",
        "Open the regulators' holes",
        "Glue",
    ]
    assert [place(words) for words in order] == sorted(place(words) for words in order)


def test_a_cut_needs_something_to_be_true_first_and_a_move_does_not():
    cuts = ("Cut", "Ream", "Drill", "Open", "Bend", "Glue")
    for step in BUILD_ORDER:
        if step.does.startswith(cuts):
            assert step.final, step.does
    assert not BUILD_ORDER[place("Draw the slides")].final
    assert not BUILD_ORDER[place("Set the stoppers")].final


def test_every_sentence_is_a_line():
    said = [words for step in BUILD_ORDER for words in (step.does, *step.first)]
    assert all(words.isprintable() and 5 < len(words) < 120 for words in said)
    assert len(said) == len(set(said))
