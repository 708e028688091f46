"""Codes out of free text: grammar of SAE J2012, status, look-alikes."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.code_lookalikes import GRAMMAR, code_of_bytes
from jobs.core.code_meaning import code_meaning, is_coolant_code, weak_bank, weak_cylinder
from jobs.core.codes import CodeStatus, code_exact, codes_read
from tests.wording import named, says


def found(text):
    return [(c.code, c.status.value) for c in codes_read(text).codes]


def odd(text):
    return {n.text: n.suggestion for n in codes_read(text).not_codes}


@pytest.mark.parametrize(
    "text",
    [
        "P0301",
        "p0301",
        "P 0301",
        "P-0301",
        "code P0301.",
        "(P0301)",
        "\tP0301\t",
        "P0301_x",
        "P\xa00301",
    ],
)
def test_one_code_however_it_is_typed(text):
    assert [code for code, _ in found(text)] == ["P0301"]
    assert odd(text) == {}


@pytest.mark.parametrize("code", ["P0301", "C0040", "B1A2F", "U0100", "P3FFF", "P0A0F"])
def test_grammar_letter_digit_to_three_three_hexadecimal(code):
    assert found(code) == [(code, "")]


def test_failure_type_after_hyphen_or_colon():
    # Three-byte form, from memory.
    assert found("P0301-00 C0040:1A p0302:0f-2F") == [
        ("P0301-00", ""),
        ("C0040-1A", ""),
        ("P0302-0F", ""),
    ]


def test_separators_of_every_kind():
    text = "P0301,P0302;P0303|P0304/P0305 and P0306\tP0307\nP0308_P0309"
    assert [code for code, _ in found(text)] == [f"P030{n}" for n in range(1, 10)]


# Services of SAE J1979: $03 stored, $07 pending, $0A permanent.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("P0301 stored", [("P0301", "stored")]),
        ("P0301 Confirmed", [("P0301", "stored")]),
        ("P0301 (current)", [("P0301", "stored")]),
        ("P0301\tRandom text\tActive", [("P0301", "stored")]),
        ("P0301 - pending", [("P0301", "pending")]),
        ("PERMANENT P0301", [("P0301", "permanent")]),
        ("P0301 stored, pending", [("P0301", "pending"), ("P0301", "stored")]),
        ("Pending: P0301, P0302", [("P0301", "pending"), ("P0302", "pending")]),
        ("P0301 P0302 pending", [("P0301", "pending"), ("P0302", "pending")]),
        (
            "Stored: P0301 Pending: P0302 P0303",
            [("P0301", "stored"), ("P0302", "pending"), ("P0303", "pending")],
        ),
        ("P0301 pending, P0302 stored", [("P0301", "pending"), ("P0302", "stored")]),
        ("$07: P0301", [("P0301", "pending")]),
        ("mode 3 P0301", [("P0301", "stored")]),
        ("Service $0A\nP0301\nP0302", [("P0301", "permanent"), ("P0302", "permanent")]),
        (
            "Pending codes\n\nP0301\nPermanent codes\nP0301",
            [("P0301", "pending"), ("P0301", "permanent")],
        ),
        ("Stored codes: P0301,\n  P0302", [("P0301", "stored"), ("P0302", "stored")]),
        ("P0301", [("P0301", "")]),
        ("P0301 not confirmed", [("P0301", "")]),
    ],
)
def test_status_from_line_heading_or_service(text, expected):
    assert found(text) == expected


@pytest.mark.parametrize(
    "text",
    [
        "P2118 Throttle actuator motor current range",
        "P0645 relay present in circuit of the active damper",
        "Customer says that a code was stored last winter and again today\nP0301",
    ],
)
def test_words_of_a_description_are_no_status(text):
    (code,) = codes_read(text).codes
    assert code.status is CodeStatus.UNKNOWN


def test_duplicates_merge_per_status_and_a_known_status_wins():
    assert found("P0301\nP0301 stored\nP0301 stored\nP0301 pending") == [
        ("P0301", "stored"),
        ("P0301", "pending"),
    ]


def test_cylinders_of_the_misfire_codes():
    # SAE J2012: P0301 to P0312 name cylinder 1 to 12; P0300, P0313, P0314 and P0316 none.
    text = " ".join(f"P03{n:02d}" for n in (*range(1, 13), 0, 13, 14, 16))
    cylinders = [c.cylinder for c in codes_read(text).codes]
    assert cylinders == [*range(1, 13), None, None, None, None]


@pytest.mark.parametrize(
    ("code", "words", "group"),
    [
        ("P0300", "several", "misfire"),
        ("P0304", "cylinder 4", "misfire"),
        ("P0312-00", "cylinder 12", "misfire"),
        ("P0313", "fuel level", "misfire"),
        ("P0314", "not said", "misfire"),
        ("P0316", "after the start", "misfire"),
        ("P0016", "bank 1", "cam timing"),
        ("P0019", "bank 2", "cam timing"),
        ("P0335", "Crankshaft", "crank or cam sensor"),
        ("P0340", "Camshaft", "crank or cam sensor"),
        ("P0325", "ignition or misfire", "ignition or misfire"),
        ("P0204", "cylinder 4", "fuel and air metering, injectors"),
        ("P0171", "lean, bank 1", "mixture"),
        ("P0175", "rich, bank 2", "mixture"),
        ("P0012", "retarded, bank 1", "cam timing"),
        ("P0021", "advanced, bank 2", "cam timing"),
        ("P0263", "cylinder 1, contribution", "fuel and air metering, injectors"),
        ("P0294", "cylinder 12, circuit low", "fuel and air metering, injectors"),
        ("P0682", "cylinder 12", "glow plugs"),
        ("P0430", "bank 2", "exhaust"),
        ("P0087", "rail", "fuel"),
        ("P0217", "hot", "cooling"),
        ("P0110", "fuel and air metering", "fuel and air metering"),
        ("P0741", "transmission", "transmission"),
        ("U0100", "Network", "network"),
    ],
)
def test_meaning_in_general_words(code, words, group):
    meaning = code_meaning(code)
    assert words in meaning.words
    assert meaning.group == group
    assert meaning.maker_specific is False


@pytest.mark.parametrize("code", ["P1345", "C1234", "B1318", "U1000"])
def test_second_character_one_is_the_makers(code):
    assert code_meaning(code).maker_specific is True
    assert "manufacturer-specific" in code_meaning(code).words


def test_second_character_three_is_mixed():
    assert code_meaning("P3400").maker_specific is None
    assert "manufacturer-specific or standard" in code_meaning("P3400").words


@pytest.mark.parametrize(
    ("text", "token", "why", "suggestion"),
    [
        ("P03O1", "P03O1", named("code_lookalikes.letter-digit-belongs", wrong="O"), "P0301"),
        ("PO3O1", "PO3O1", named("code_lookalikes.letter-digit-belongs", wrong="O"), "P0301"),
        ("P03I1", "P03I1", named("code_lookalikes.letter-digit-belongs", wrong="I"), "P0311"),
        ("X0301", "X0301", named("code_lookalikes.no-code-begins-p", text="X"), ""),
        ("P4301", "P4301", named("code_lookalikes.second-character-code-0", text=4), ""),
        ("P030", "P030", named("code_lookalikes.characters-code-five", count=4), ""),
        ("P03", "P03", named("code_lookalikes.characters-code-five", count=3), ""),
        ("P03011", "P03011", named("code_lookalikes.characters-code-five", count=6), "P0301"),
        ("P030100", "P030100", named("code_lookalikes.characters-code-five", count=7), "P0301-00"),
        ("P03X1", "P03X1", named("code_lookalikes.neither-digit-nor-one", strange="X"), ""),
        (
            "P0301Cylinder 1",
            "P0301Cylinder",
            named("code_lookalikes.runs-into-other-text"),
            "P0301",
        ),
        ("P0301P0302", "P0301P0302", named("code_lookalikes.runs-into-other-text"), "P0301 P0302"),
        ("0x0301", "0x0301", named("code_lookalikes.two-byte-form-code"), "P0301"),
        ("P03 01", "P03 01", named("code_lookalikes.code-written-one-piece"), "P0301"),
        ("P.0301", "P.0301", named("code_lookalikes.code-written-one-piece"), "P0301"),
        ("P0301, 0302", "0302", named("code_lookalikes.no-letter-code-begins"), "P0302"),
        ("\u04200301", "\u04200301", named("code_lookalikes.holds-characters-only-look"), "P0301"),
        ("Ｐ０３０１", "Ｐ０３０１", named("code_lookalikes.holds-characters-only-look"), "P0301"),
    ],
)
def test_lookalikes_are_pointed_out(text, token, why, suggestion):
    (not_a_code,) = codes_read(f"first line\n{text}").not_codes
    assert not_a_code.text == token
    assert says(not_a_code.why, why)
    assert not_a_code.suggestion == suggestion
    assert not_a_code.line_no == 2
    assert not_a_code.line == text


@pytest.mark.parametrize(
    "text",
    [
        "The customer drives a C220 from 2004, 150000 km, oil 5W30, battery 12.4 V.",
        "VIN 1G4AH59H45G118341, engine N47D20, phone 0301 555 123",
        "It shakes at 2000 rpm and 80 km/h; plate KX-204-T; room 12B, A4, B2B.",
        "Freeze frame: engine speed 1726 rpm, load 45.1 %, MAP 34 kPa",
        "",
    ],
)
def test_ordinary_text_is_not_flagged(text):
    reading = codes_read(text)
    assert reading.codes == ()
    assert reading.not_codes == ()


def test_two_byte_form():
    # Both from memory.
    assert code_of_bytes(0x0301) == "P0301"
    assert code_of_bytes(0xC100) == "U0100"


def test_the_box_takes_one_code_exactly():
    assert code_exact(" p 0301 ") == "P0301"
    assert code_exact("P0301-1a") == "P0301-1A"
    assert code_exact("P0301 P0302") is None
    assert code_exact("hello") is None


CODES = st.from_regex(r"[PCBU][0-3][0-9A-F]{3}", fullmatch=True)
SEPARATORS = st.sampled_from(
    [" ", "\n", ", ", ";", "\t", " and ", "/", " (stored) ", "\r\n", " – "]
)


@given(st.text(max_size=300))
def test_any_text_can_be_read(text):
    reading = codes_read(text)
    lines = text.splitlines()
    for code in reading.codes:
        assert GRAMMAR.fullmatch(code.base)
        assert lines[code.line_no - 1].strip() == code.line
    for not_a_code in reading.not_codes:
        assert not_a_code.text in lines[not_a_code.line_no - 1]
        assert not_a_code.why.endswith(".")


@given(st.lists(st.tuples(CODES, SEPARATORS), min_size=1, max_size=30))
def test_no_code_is_swallowed(pairs):
    text = "".join(code + separator for code, separator in pairs)
    assert {c.code for c in codes_read(text).codes} == {code for code, _ in pairs}


@given(
    st.lists(
        st.from_regex(r"[PCBUXOD][0-9OIL][0-9A-FOI]{1,5}", fullmatch=True), min_size=1, max_size=8
    )
)
def test_what_nearly_is_a_code_is_either_read_or_pointed_out(tokens):
    reading = codes_read("\n".join(tokens))
    told = {c.code for c in reading.codes} | {n.text for n in reading.not_codes}
    near = [
        t for t in tokens if re.fullmatch(r"[PCBU][0-9]{4}", t) or re.fullmatch(r"P0\d{1,4}", t)
    ]
    assert set(near) <= told


@given(CODES, st.sampled_from([s for s in CodeStatus if s is not CodeStatus.UNKNOWN]))
def test_status_survives_either_side(code, status):
    assert found(f"{code} {status.value}") == [(code, status.value)]
    assert found(f"{status.value.title()} codes:\n{code}") == [(code, status.value)]


@pytest.mark.parametrize("text", ["History codes:\nP0301", "P0301 (history)", "P0301, current"])
def test_history_and_current_are_stored(text):
    (found,) = codes_read(text).codes
    assert found.status is CodeStatus.STORED


@pytest.mark.parametrize(
    ("code", "cylinder", "bank"),
    # SAE J2012 (from memory): P0261 to P0296 go by three codes a cylinder
    [
        ("P0301", 1, None),
        ("P0261", 1, None),
        ("P0269", 3, None),
        ("P0296", 12, None),
        ("P0297", None, None),
        ("P0260", None, None),
        ("P0671", 1, None),
        ("P0670", None, None),
        ("P0683", None, None),
        ("P0008", None, 1),
        ("P0025", None, 2),
        ("P0018", None, 2),
        ("P0420-00", None, 1),
        ("P0335", None, None),
    ],
)
def test_codes_name_a_cylinder_or_a_bank(code, cylinder, bank):
    meaning = code_meaning(code)
    assert (meaning.cylinder, meaning.bank) == (cylinder, bank)


CYLINDER_RANGES = [
    # SAE J2012 (from memory): misfire P0301 to P0312, injector circuits P0201 to P0212, glow plugs
    # P0671 to P0682 by one a cylinder; injector low, high, contribution P0261 to P0296 by three
    *((f"P{301 + n:04d}", n + 1) for n in range(12)),
    *((f"P{201 + n:04d}", n + 1) for n in range(12)),
    *((f"P{671 + n:04d}", n + 1) for n in range(12)),
    *((f"P{261 + n:04d}", n // 3 + 1) for n in range(36)),
]
POSITION = {"P0016", "P0017", "P0018", "P0019"}
BANK_RANGES = [
    # SAE J2012 (from memory): bank of cylinder 1 is bank 1
    *(("P0008", 1), ("P0009", 2)),
    *((f"P{code:04d}", 1) for code in (*range(10, 18), 170, 171, 172, 340, 365, *range(420, 424))),
    *((f"P{code:04d}", 2) for code in (*range(18, 26), 173, 174, 175, 345, 390, *range(430, 434))),
]


def test_every_code_of_the_standards_first_thousand_names_its_own_and_no_other():
    cylinders, banks = dict(CYLINDER_RANGES), dict(BANK_RANGES)
    assert (len(cylinders), len(banks)) == (72, 36)
    for number in range(1000):
        code = f"P{number:04d}"
        meaning = code_meaning(code)
        assert (meaning.cylinder, meaning.bank) == (cylinders.get(code), banks.get(code)), code
        if meaning.cylinder is not None:
            assert f"cylinder {meaning.cylinder}" in meaning.words
        if meaning.bank is not None:
            assert f"bank {meaning.bank}" in meaning.words


def test_three_codes_of_each_injector_say_low_high_and_contribution():
    kinds = ("circuit low", "circuit high", "contribution")
    for number in range(261, 297):
        assert kinds[(number - 261) % 3] in code_meaning(f"P{number:04d}").words
        contributes = (number - 261) % 3 == 2
        assert (weak_cylinder(f"P{number:04d}") is not None) is contributes


def test_codes_that_say_a_bank_burns_badly():
    # common practice: unburnt air of a dead cylinder makes its own bank lean and its catalyst bad.
    # An advanced cam raises compression, a retarded one lowers it; an actuator's circuit is wiring.
    weak = {code: bank for code, bank in BANK_RANGES if weak_bank(code) is not None}
    assert weak == {
        code: bank
        for code, bank in BANK_RANGES
        if not 10 <= int(code[1:]) <= 25 or code in {"P0012", "P0015", "P0022", "P0025"} | POSITION
        if code not in {"P0340", "P0345", "P0365", "P0390"}
    }


def test_codes_of_lost_coolant():
    # P0217 too hot, P0128 does not reach the thermostat's temperature (SAE J2012)
    assert [f"P{n:04d}" for n in range(1000) if is_coolant_code(f"P{n:04d}")] == ["P0128", "P0217"]
    assert is_coolant_code("P0217-00")
