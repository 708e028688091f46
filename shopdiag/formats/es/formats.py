"""Spanish dates, which say "de" between day, month and year.

Pages and texts name their formats as English writes them; Django looks such a name up here first.
"""

_DAY = r"j \d\e F"
_DATE = rf"{_DAY} \d\e Y"

globals().update(
    {
        "j M": _DAY,
        "j M, H:i": rf"{_DAY}, H:i",
        "j M Y": _DATE,
        "j F Y": _DATE,
        "j M Y, H:i": rf"{_DATE}, H:i",
        "j M Y, H:i:s": rf"{_DATE}, H:i:s",
    }
)
