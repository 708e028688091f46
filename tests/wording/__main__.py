"""Bring the wordings that tests name up to those of the product: `python -m tests.wording`.

A text that nobody says any more takes the wording of the product that is nearest to it, and is
printed with it: look whether it is the one. One without a near wording has to be looked for.
"""

import json
from difflib import get_close_matches

from tests.wording import TEXTS, said_now, texts

_NEAR = 0.6


def main() -> None:
    """Write `texts.toml` anew and print what changed."""
    now = said_now()
    known = texts()
    for name, forms in known.items():
        key = "\0".join(forms)
        if key in now:
            continue
        nearest = get_close_matches(key, now, n=1, cutoff=_NEAR)
        print(f"{name}: {forms[0]}\n  -> {now[nearest[0]][0] if nearest else 'nothing like it'}")  # noqa: T201
        if nearest:
            known[name] = now[nearest[0]]
    write(known)


def write(known: dict[str, list[str]]) -> None:
    """Write texts by name."""
    groups: dict[str, list[str]] = {}
    for name in sorted(known):
        group, _, short = name.partition(".")
        forms = [json.dumps(words, ensure_ascii=False) for words in known[name]]
        value = f"[{', '.join(forms)}]" if forms[1:] else forms[0]
        groups.setdefault(group, []).append(f"{short} = {value}")
    head = (
        "# English of the texts that tests name. `python -m tests.wording` brings it up to date.\n"
    )
    lines = [f"\n[{group}]\n" + "\n".join(entries) + "\n" for group, entries in groups.items()]
    TEXTS.write_text(head + "".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
