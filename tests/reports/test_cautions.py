"""Cautions: every rule of the shop has its words, once, in the order of the work."""

from __future__ import annotations

from itertools import combinations

import pytest

from cutvision.reports.cautions import TOPICS, Topic, brief_caution, cautions
from cutvision.reports.columns import wrap

STOPPED = ("saw maker's manual", "local safety regulations", "off", "unplug", "blade has stopped")
RULES = {
    "photo": (*STOPPED, "lift an offcut", "away from the saw"),
    "measure": STOPPED,
    "adjust": (*STOPPED, "fasten the fence", "shims are trapped", "Turn the blade by hand", "clamps are clear of it"),
    "cut": (
        "guard",
        "riving knife",
        "before you plug the saw in",
        "cover over the blade",
        "where the blade comes out",
        "a stop that halts the sled",
        "out of the blade's line",
        "rip fence as an end stop for an offcut",
        "Clamp small pieces",
        "too small to clamp",
        "back a piece out over a running blade",
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
def test_combined_topics_say_each_sentence_once_and_the_makers_manual_first(topics: tuple[Topic, ...]) -> None:
    """Combining topics loses no sentence, doubles none, and begins with the saw maker's manual."""
    combined = cautions(*topics)
    assert len(set(combined)) == len(combined)
    assert set(combined) == {text for topic in topics for text in cautions(topic)}
    assert "saw maker's manual" in combined[0]
    assert combined == cautions(*reversed(topics))


@pytest.mark.parametrize("topic", TOPICS)
def test_in_brief_a_caution_is_two_lines_that_begin_with_the_manual_or_the_stopped_saw(topic: Topic) -> None:
    """Short enough for two lines of a terminal; manual and regulations are in each."""
    brief = brief_caution(topic)
    assert len(wrap(brief, "Caution: ", "").splitlines()) <= 2
    assert "manual" in brief
    assert "regulations" in brief


def test_a_topic_nobody_knows_is_a_bug_and_not_silence() -> None:
    """An unknown topic raises instead of leaving its cautions out."""
    with pytest.raises(KeyError):
        cautions("sharpen")  # type: ignore[arg-type]
    with pytest.raises(KeyError):
        brief_caution("sharpen")  # type: ignore[arg-type]
