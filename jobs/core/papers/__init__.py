"""Papers as PDF: the sheet of a page, set on A4 or Letter.

The sheet's own markup is what is set, so that page and file cannot say different things:
`sheet_tree` reads it, `typesetting` has it set by a bounded process (`typesetter`, `sheet.typ`),
and `font_coverage` knows which characters the fonts have.
"""

from jobs.core.papers.font_coverage import (
    SCRIPTS,
    Fonts,
    fonts_in,
    scripts_missing,
)
from jobs.core.papers.sheet_tree import Sheet, read_sheet, sheet_text
from jobs.core.papers.typesetting import (
    LONGEST_CHARACTERS,
    PaperSize,
    TypesettingError,
    typeset,
)

__all__ = [
    "LONGEST_CHARACTERS",
    "SCRIPTS",
    "Fonts",
    "PaperSize",
    "Sheet",
    "TypesettingError",
    "fonts_in",
    "read_sheet",
    "scripts_missing",
    "sheet_text",
    "typeset",
]
