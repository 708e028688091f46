"""Files of recorded signals: one reader per format."""

from traces.core.readers.case_files import read_case
from traces.core.readers.correcting import BY_HAND
from traces.core.readers.correction import (
    DECIMALS,
    DELIMITERS,
    LONGEST_NAME,
    LONGEST_UNIT,
    MOST_COLUMN,
    MOST_CORRECTED,
    MOST_LINE,
    TIME_UNITS,
    ChannelCorrection,
    Correction,
    CorrectionError,
    TextCorrection,
)
from traces.core.readers.inspecting import inspection, text_of, unreadable
from traces.core.readers.not_a_recording import refusal_of
from traces.core.readers.packed import source_of, unpacked_folder
from traces.core.readers.read_error import ReadError
from traces.core.readers.reading import READERS, read
from traces.core.readers.recording import MOST_RATIO, Recording, Source
from traces.core.readers.storing import (
    BLOCKS_SUFFIX,
    MEANS_SUFFIX,
    files_of,
    summaries_at,
    write_summaries,
)
from traces.core.readers.text_facts import shown_lines
from traces.core.readers.text_layout import lines_of

__all__ = [
    "BLOCKS_SUFFIX",
    "BY_HAND",
    "DECIMALS",
    "DELIMITERS",
    "LONGEST_NAME",
    "LONGEST_UNIT",
    "MEANS_SUFFIX",
    "MOST_COLUMN",
    "MOST_CORRECTED",
    "MOST_LINE",
    "MOST_RATIO",
    "READERS",
    "TIME_UNITS",
    "ChannelCorrection",
    "Correction",
    "CorrectionError",
    "ReadError",
    "Recording",
    "Source",
    "TextCorrection",
    "files_of",
    "inspection",
    "lines_of",
    "read",
    "read_case",
    "refusal_of",
    "shown_lines",
    "source_of",
    "summaries_at",
    "text_of",
    "unpacked_folder",
    "unreadable",
    "write_summaries",
]
