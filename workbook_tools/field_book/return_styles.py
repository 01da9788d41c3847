"""The cell formats of the Return sheet."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from xlsxwriter.format import Format

from workbook_tools.contract.lettering import Fit, lines
from workbook_tools.contract.model import Field
from workbook_tools.contract.writing import number_format
from workbook_tools.field_book.canvas import Canvas
from workbook_tools.field_book.state import longest_states

_STATE_SIZES = (11, 10, 9)
_PADDING = 4
TIME_FORMAT = "[<1]h:mm;General"
"""A time of day as such; 940 or 9.4, typed in haste, stays as typed."""


class ReturnStyles:
    """Formats by what they are for. Answer cells are the only unlocked ones."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        style = canvas.style
        paint = {"bg_color": "heading", "font_color": "heading_ink"}
        grid = {"border": 1, "border_color": "grid"}
        small = canvas.look.type_sizes["small"]
        self.title = style(bold=True, indent=1, font_size=canvas.look.type_sizes["title"])
        button = {"bg_color": "notice", "font_color": "link_ink", "border_color": "paper"}
        self.title_link = style(bold=True, underline=1, align="center", border=5, shrink=True, **button)
        self.count = style(bold=True, align="center", shrink=True)
        self.group = style(bold=True, font_size=small, align="center", bg_color="shelf_bar", shrink=True, **grid)
        self.section = style(bold=True, indent=1, font_size=canvas.look.type_sizes["subtitle"], **paint)
        self.section_link = style(bold=True, underline=1, align="center", bg_color="notice", font_color="link_ink")
        self.bar = style(bold=True, bg_color="shelf_bar", indent=1)
        state_fit = self._state_fit()
        self.state = style(bold=True, align="center", text_wrap=True, font_size=state_fit.points, **grid)
        self.state_height = state_fit.height
        self.question = style(bold=True, text_wrap=True, indent=1, bg_color="locked", **grid)
        self.before = style(text_wrap=True, indent=1, bg_color="notice", font_size=small, **grid)
        self.help = style(text_wrap=True, font_color="quiet_ink", font_size=small, indent=1, **grid)
        self.check = style(bold=True, text_wrap=True, indent=1, **grid)

    def _state_fit(self) -> Fit:
        """The type size at which every state fits its cell, or else the smallest."""
        room = self.canvas.layout.positions.by_key["state"].width - _PADDING
        texts = longest_states(self.canvas.words)
        fits = [Fit(points, max(lines(text, room, points, True) for text in texts)) for points in _STATE_SIZES]
        least = self.canvas.look.sizes["answer_row"] - _PADDING // 2
        return next((one for one in fits if one.height <= least), fits[-1])

    def heading(self, points: int) -> Format:
        """A column heading in a type size."""
        return self.canvas.style(
            bold=True,
            bg_color="heading",
            font_color="heading_ink",
            text_wrap=True,
            align="center",
            border=1,
            border_color="frame",
            font_size=points,
        )

    def locked(self, points: int, **more: object) -> Format:
        """A cell that tells what is planned."""
        return self.canvas.style(
            text_wrap=True, border=1, border_color="grid", font_size=points, **{"indent": 1, **more}
        )

    def tray_link(self, points: int) -> Format:
        """A tray's name, linked to where it is drawn."""
        link = {"bold": True, "underline": 1, "font_color": "link_ink", "align": "center"}
        return self.canvas.style(border=1, border_color="grid", font_size=points, text_wrap=True, **link)

    def answer(
        self,
        field: Field,
        *,
        shrink: bool = False,
        quiet: bool = False,
        more: Mapping[str, object] = MappingProxyType({}),
    ) -> Format:
        """An open cell: yellow, as long as nothing stands in it; `quiet` ones only where something differs."""
        fits = {"shrink": True} if shrink else {"text_wrap": True}
        look = {
            "bg_color": "settled" if quiet else "waiting",
            "border": 1,
            "border_color": "answer_frame",
            "locked": False,
            "align": "center",
            "num_format": TIME_FORMAT if field.type == "time" else number_format(field),
        }
        return self.canvas.style(**{**look, **fits, **more})
