"""The sentences that scripts ask for: which there must be, and what they put into their places."""

from __future__ import annotations

from gpost.words import group, say

ASKED = {
    "script": {
        "press_start": "",
        "first": "what",
        "unticked": "all count",
        "left_unticked": "all count",
        "ticked": "all count",
        "next": "",
        "due": "",
        "late": "",
        "left": "time",
        "beyond": "time",
        "limit": "waits what",
        "still": "time what",
        "too_long": "longer what",
        "waits": "time",
        "early": "time",
        "end": "",
        "finished": "",
        "should_be": "",
        "is_off": "",
        "over": "",
        "off_at": "time",
        "took": "time",
        "since_start": "time",
        "in": "time",
        "since": "time",
        "at": "time",
        "past": "time",
        "kept": "",
        "not_kept": "",
        "awake": "",
        "not_awake": "",
        "sure": "",
        "front": "",
        "not_begun": "",
        "built": "height layer layers time",
    },
    "index_script": {
        "press_start": "",
        "next_piece": "piece",
        "all_printed": "",
        "no_piece": "",
        "due": "",
        "is_off": "",
    },
}
"""Places of each sentence by its key; with `count` there is one for 1 and one for any other number."""


def for_scripts(*names: str) -> dict[str, str]:
    """The sentences of these groups as a page hands them to its scripts.

    Raises WordsError for one that is missing, and for a place that no script fills.
    """
    found: dict[str, str] = {}
    for name in names:
        for key, places in ASKED[name].items():
            values = places.split()
            for count in (1, 2) if "count" in values else (0,):
                say(f"{name}.{key}", **{place: count if place == "count" else "" for place in values})
        found |= group(name)
    return found
