"""Live checks of the visit questions and the parts: still open, answered, or at odds with something else.

Only functions that every spreadsheet program has: AND, COUNTA, COUNTIF, IF, ISNUMBER, N, NOT, OR.
"""

from __future__ import annotations

from workbook_tools.contract.model import Field
from workbook_tools.contract.names import a1
from workbook_tools.contract.serials import serial_day
from workbook_tools.field_book.canvas import Canvas
from workbook_tools.program.formula_texts import quoted_text
from workbook_tools.program.model import Part

_ALWAYS_ASKED = ("visit_date", "time_in", "time_out", "carton", "built")
_ASKED_IF_BUILT = ("place", "tags_asked", "photo")


class VisitChecks:
    """Makes the formula of each question's check cell."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        self.layout = canvas.layout
        self.open_mark = canvas.words("state.todo_mark")

    def of(self, field: Field) -> tuple[str, str]:
        """The formula beside a question, and its result in a blank book."""
        answer = self.layout.visit_cell(field.key)
        todo, answered = self._text("state.todo"), self._text("return.answered")
        settled = answered
        for test, message in self._slips(field.key, answer):
            settled = f"IF({test},{message},{settled})"
        if not self._asked(field):
            blank, cached = '""', ""
            if slip := self._missing(field.key):
                blank = f'IF({slip[0]},{slip[1]},"")'
        elif field.key in _ASKED_IF_BUILT:
            blank, cached = f'IF({self._built_is("no")},"",{todo})', self.canvas.words("state.todo")
        else:
            blank, cached = todo, self.canvas.words("state.todo")
        if field.source == "stamp" and not self.canvas.shared:
            cached = self.canvas.words("return.answered")
        return f'=IF({answer}="",{blank},{settled})', cached

    def part(self, part: Part, row: int) -> tuple[str, str]:
        """The formula beside a part in a 0-based row, and its result in a blank book."""
        column = self.layout.parts.columns
        missing, damaged, quantity = (a1(row, column[key]) for key in ("missing", "damaged", "quantity"))
        told = f'IF(N({missing})+N({damaged})>{quantity},{self._text("return.too_many")},"")'
        if self.canvas.particulars.before(self.layout.parts.key, part.part) is None:
            return f"={told}", ""
        blank = f'AND({missing}="",{damaged}="")'
        return f"=IF({blank},{self._text('state.todo')},{told})", self.canvas.words("state.todo")

    def _asked(self, field: Field) -> bool:
        if field.key in ("store", "merchandiser"):
            return self.canvas.shared
        if field.key == "photo":
            return self.canvas.program.settings.photos != "none"
        return field.key in _ALWAYS_ASKED or field.key in _ASKED_IF_BUILT

    def _slips(self, key: str, answer: str) -> list[tuple[str, str]]:
        """(test, message) for what an answer given can be at odds with."""
        settings = self.canvas.program.settings
        if key == "visit_date":
            starts, due = (self.canvas.date(day) for day in (settings.starts, settings.due))
            outside = f"OR({answer}<{serial_day(settings.starts)},{answer}>={serial_day(settings.due) + 1})"
            message = quoted_text(self.canvas.words("return.outside_window", starts=starts, due=due))
            return [(f"AND(ISNUMBER({answer}),{outside})", message)]
        if key == "time_out":
            return [(self._out_before_in(answer), self._text("return.out_before_in"))]
        if key == "built":
            positions = self.layout.column_range("as_planned").partition(":")[0]
            last = self.layout.column_range("note").partition(":")[2]
            reported = f"COUNTA({positions}:{last})>0"
            return [(f"AND({self._built_is('no')},{reported})", self._text("return.trays_reported"))]
        if key == "tags_asked":
            asked = self.canvas.words.choice("tag", "asked store")
            some = f"COUNTIF({self.layout.column_range('tag')},{quoted_text(asked)})>0"
            message = quoted_text(self.canvas.words("return.tags_were_asked", asked=asked))
            return [(f"AND({answer}={self._choice('yes_no', 'no')},{some})", message)]
        if key == "photo" and settings.photos != "none":
            wanted = f"AND({answer}={self._choice('yes_no', 'no')},NOT({self._built_is('no')}))"
            return [(wanted, self._text("return.photo_wanted"))]
        return []

    def _missing(self, key: str) -> tuple[str, str] | None:
        """(test, message) for an answer that another one asks for."""
        if key == "why_not":
            return f"OR({self._built_is('no')},{self._built_is('partly')})", self._text("return.say_why")
        if key == "note":
            elsewhere = f"{self.layout.visit_cell('place')}={self._choice('place', 'elsewhere')}"
            return elsewhere, self._text("return.say_where")
        return None

    def _out_before_in(self, time_out: str) -> str:
        """True where both times are numbers written in the same way, and out is less than in."""
        time_in = self.layout.visit_cell("time_in")
        ways = ("{}<1", "AND({}>=1,{}<24)", "{}>=24")
        alike = (",".join(way.replace("{}", cell) for cell in (time_in, time_out)) for way in ways)
        same = ",".join(f"AND({both})" for both in alike)
        return f"AND(ISNUMBER({time_in}),ISNUMBER({time_out}),OR({same}),{time_out}<{time_in})"

    def _built_is(self, key: str) -> str:
        return f"{self.layout.visit_cell('built')}={self._choice('built', key)}"

    def _choice(self, choices: str, key: str) -> str:
        return quoted_text(self.canvas.words.choice(choices, key))

    def _text(self, key: str) -> str:
        return quoted_text(self.canvas.words(key))
