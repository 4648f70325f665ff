"""A table as a piece of a page: words to the left, numbers to the right, and on a narrow page a block for each row."""

import math
from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from lampkit import numbers

if TYPE_CHECKING:
    import pandas as pd

RULES = (
    ".lampkit-table{container-type:inline-size;overflow-x:auto;line-height:1.35}"
    ".lampkit-table table{border-collapse:collapse;margin:0 0 8px;table-layout:auto}"
    ".lampkit-table th,.lampkit-table td{padding:4px 10px 4px 0!important;vertical-align:top!important;"
    "border-bottom:1px solid rgba(128,128,128,.35)!important;white-space:normal!important}"
    ".lampkit-table th{font-weight:600;vertical-align:bottom!important}"
    ".lampkit-table .word{text-align:left!important}"
    ".lampkit-table .number{text-align:right!important;font-variant-numeric:tabular-nums}"
    ".lampkit-table td.number{white-space:nowrap!important}"
    "@container (max-width:560px){"
    ".lampkit-table table,.lampkit-table tbody,.lampkit-table tr,.lampkit-table td{display:block!important}"
    ".lampkit-table thead{display:none!important}"
    ".lampkit-table tr{padding:5px 0;border-bottom:1px solid rgba(128,128,128,.5)!important}"
    ".lampkit-table td{border:0!important;padding:1px 0!important}"
    ".lampkit-table td.number{text-align:left!important;white-space:normal!important}"
    ".lampkit-table td:empty{display:none!important}"
    ".lampkit-table td:first-child{font-weight:600}"
    ".lampkit-table td:not(:first-child)::before{content:attr(data-heading) ': '}}"
)
"""How the table looks; the colours are those of the page around it. Source: CSS Conditional 5 for the narrow page."""

ROOM = (
    "@media (max-width:500px){.jp-Notebook .jp-WindowedPanel-viewport,.jp-Notebook .jp-Cell"
    "{padding-left:0!important;padding-right:0!important}"
    ".jp-OutputArea-output.jp-RenderedHTMLCommon{padding-right:0!important}}"
)
"""What gives tables, charts and panels on a phone the empty edges of a notebook, so that letters stay legible.
Source: the names are those of JupyterLab; own measurement."""


NUMBERS = frozenset("0123456789.,()+-−<> %to")
"""Characters of which a cell that counts as a number is made."""


LONGEST = 16
"""Characters of a word that is kept in one piece [1]. Source: own judgement."""


def written(table: "pd.DataFrame", remarks: Sequence[object] = (), *, decimals: int = 2) -> str:
    """Write a table, and remarks under it."""
    headings = [str(name).removesuffix(" [1]") for name in table.columns]  # a pure number says so by itself
    rows = [[_word(value, decimals) for value in row] for row in table.itertuples(index=False)]
    sides = [
        "number" if all(NUMBERS.issuperset(row[i]) for row in rows) and any(row[i] for row in rows) else "word"
        for i in range(len(headings))
    ]
    head = "".join(
        f'<th scope="col" class="{side}">{escape(name)}</th>' for name, side in zip(headings, sides, strict=True)
    )
    body = "".join(
        "<tr>"
        + "".join(
            f'<td class="{side}" data-heading="{escape(name)}">{_breaking(cell)}</td>'
            for name, side, cell in zip(headings, sides, row, strict=True)
        )
        + "</tr>"
        for row in rows
    )
    said = "".join(f"<li>{escape(numbers.together(remark))}</li>" for remark in remarks)
    return (
        f'<style>{RULES}{ROOM}</style><div class="lampkit-table"><table><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>{f'<ul>{said}</ul>' if said else ''}"
    )


def _breaking(cell: str) -> str:
    """Let a long designation, as in ECE/TRANS/WP.29, wrap at its strokes."""
    return " ".join(
        escape(word).replace("/", "/<wbr>") if len(word) > LONGEST else escape(word)
        for word in numbers.together(cell).split(" ")
    )


def _word(value: object, decimals: int) -> str:
    if isinstance(value, float):  # numpy's own float is one, too
        if math.isinf(value):
            return "no limit"
        return "" if math.isnan(value) else f"{value:.{decimals}f}"
    return "" if value is None else str(value)
