"""Cautions: every rule of the shop has its words, once, in the order of the work."""

from __future__ import annotations

from itertools import combinations

import pytest

from cutvision.reports.cautions import TOPICS, Topic, cautions

RULES = {
    "photo": ("off", "unplug", "stands still", "away from the saw"),
    "measure": ("off", "unplug", "stands still"),
    "adjust": ("off", "unplug", "stands still", "fasten the fence", "leaf", "clamps are clear of the blade"),
    "cut": (
        "guard",
        "riving knife",
        "cover over the blade",
        "where the blade comes out",
        "stop",
        "rip fence",
        "Clamp small pieces",
        "too small to clamp",
        "running blade",
        "eyes",
        "ears",
        "lungs",
        "gloves",
    ),
}


@pytest.mark.parametrize("topic", TOPICS)
def test_each_topic_says_every_rule_that_belongs_to_it(topic: Topic) -> None:
    """A topic's sentences hold each of its rules (common practice, no source)."""
    text = " ".join(cautions(topic))
    assert [rule for rule in RULES[topic] if rule not in text] == []


@pytest.mark.parametrize("topics", [c for n in range(1, 5) for c in combinations(TOPICS, n)])
def test_combined_topics_say_each_sentence_once_and_the_makers_manual_last(topics: tuple[Topic, ...]) -> None:
    """Combining topics loses no sentence, doubles none, and ends with the saw maker's manual."""
    combined = cautions(*topics)
    assert len(set(combined)) == len(combined)
    assert set(combined) == {text for topic in topics for text in cautions(topic)}
    assert "saw maker's manual" in combined[-1]
    assert combined == cautions(*reversed(topics))


def test_a_topic_nobody_knows_is_a_bug_and_not_silence() -> None:
    """An unknown topic raises instead of leaving its cautions out."""
    with pytest.raises(KeyError):
        cautions("sharpen")  # type: ignore[arg-type]
