"""What was reported before, and what is to be done about it, as a person reads it in a book of a later visit."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.contract.load import default_contract
from workbook_tools.contract.words import Words
from workbook_tools.program.asked import PARTS, POSITIONS, SETTLED, Asked
from workbook_tools.program.joined import joined


def before_text(words: Words, asked: Asked, block: str, key: str) -> str:
    """What was reported of a position or part: "Before: label Quarnby · tag asked store"."""
    told = joined(list(_told(words, asked.before(block, key), block)))
    return words("revisit.before", told=told or words("revisit.nothing"))


def todo_text(words: Words, asked: Asked, key: str) -> str:
    """What to do at a position, a sentence for each open flag."""
    flags = asked.flags(POSITIONS, key)
    said = [words(f"revisit.todo.{kind}", due=due) for kind, due in flags.items()]
    return " ".join(dict.fromkeys(said)) or words("revisit.todo.not_reported")


def part_text(words: Words, asked: Asked, key: str) -> str:
    """What was reported of a part, and how to answer for it now."""
    return f"{before_text(words, asked, PARTS, key)}. {words('revisit.todo.part_missing')}"


def settled_text(words: Words, asked: Asked, question: str) -> str:
    """A question of the visit that is not asked again, with the answer given before."""
    block = default_contract().field_book.block("visit")
    answer = asked.before(SETTLED, question).get(block.value_column, "")
    if not answer:
        return words("revisit.as_before")
    return words("revisit.as_before_answer", answer=words.choice(block.by_key[question].choices, answer))


def _told(words: Words, before: dict[str, str], block: str) -> Iterator[str]:
    for field in default_contract().field_book.block(block).open_fields:
        if field.key not in before or (field.key == "as_planned" and before[field.key] == "no"):
            continue  # "no" alone tells nothing: what differs stands in the other answers
        value = words.choice(field.choices, before[field.key])
        key = f"revisit.told.{field.key}"
        heading = words(f"field_book.{block}.{field.key}.heading")
        yield words(key, value=value) if key in words else f"{heading} {value}"
