"""The process that sets one sheet: reads it as JSON, writes the PDF, and is bounded meanwhile."""

import json
import sys
from pathlib import Path

import typst

from shopdiag.people.core.process_bounds import bound_process

_MOST_MEMORY_BYTES = 2 << 30  # of addresses; the fonts are mapped, not read
_MOST_PROCESSOR_S = 20
_TEMPLATE = Path(__file__).with_name("sheet.typ")


def _main() -> None:
    given = json.load(sys.stdin.buffer)
    bound_process(memory_bytes=_MOST_MEMORY_BYTES, processor_s=_MOST_PROCESSOR_S)
    folders = [Path(folder) for folder in given["folders"]]
    fonts = typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=folders
    )
    # PDF/UA: tagged and titled, and refused where a glyph is missing instead of a box on paper
    pdf = typst.compile(
        str(_TEMPLATE),
        root=str(_TEMPLATE.parent),
        font_paths=fonts,
        ignore_system_fonts=True,
        sys_inputs={"document": json.dumps(given["document"])},
        format="pdf",
        pdf_standards=["ua-1"],
    )
    sys.stdout.buffer.write(pdf)


if __name__ == "__main__":
    _main()
