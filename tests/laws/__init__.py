"""Laws of physics under random input: 500 pipes in every run, 5000 in the long one (LAWS=5000)."""

import os

LONG = "LAWS" in os.environ
PIPES = int(os.environ.get("LAWS", "500"))


def pipes(law: str) -> int:
    """How many examples a law takes of all `PIPES`: the shares add up to 1."""
    return max(1, round(PIPES * SHARES[law]))


SHARES = {"causality": 0.1, "cutting": 0.2, "hole": 0.2, "length": 0.2, "warmth": 0.15, "scale": 0.15}
