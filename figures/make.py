"""Draw the pictures of the README again: python figures/make.py"""

import pathlib
from dataclasses import replace

import acoustics as ac
from acoustics.view import draw_pipe, plot_chart

HERE = pathlib.Path(__file__).parent
DESIGN = HERE.parent / "notebooks" / "designs" / "sallow-ford-1.toml"


def pictures() -> dict:
    """Every picture by the name of its file."""
    chanter = ac.read_design(DESIGN)
    straight = replace(chanter, staple=replace(chanter.staple, tip_mm=chanter.staple.foot_mm))
    return {
        "pipe.png": draw_pipe(chanter),
        "chart.png": plot_chart(ac.tuning_chart(chanter), ac.tuning_chart(straight), "straight staple"),
    }


if __name__ == "__main__":
    for name, picture in pictures().items():
        (HERE / name).write_bytes(picture.png())
        (HERE / name).with_suffix(".txt").write_text(picture.words + "\n", encoding="utf-8")
        print(name)
