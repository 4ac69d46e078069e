"""Owns taking a reading back: gone from the job, kept in its log."""

from app.parts import keep


def show(case: dict, index: int) -> None:
    """Take reading `index` of the open job back and run the screen again."""
    rest = [one for number, one in enumerate(case["readings"]) if number != index]
    keep.show({**case, "readings": rest}, {"event": "taken-back", "reading": case["readings"][index]},
              f"Saved. Taken back; {len(rest)} readings kept.")
