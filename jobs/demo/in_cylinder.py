"""The demo's vehicle whose fault shows by the pressure in its cylinders. All of it is invented."""

from jobs.demo.story import DemoCrank, DemoFinding, DemoPressure, Story

IN_CYLINDER: tuple[Story, ...] = (
    Story(  # even, and every cylinder alike: the exhaust holds back
        customer={"name": "Ottilie Brackenridge", "phone": "555 0173"},
        vehicle={
            "plate": "NK 735 LE",
            "vin": "00MRW5R39FK402951",
            "make": "Merrow",
            "model": "Estuary 1.5",
            "year": 2013,
            "engine_code": "ME15",
            "coils": "single",
            "injection": "port",
            "stop_start": "no",
        },
        odometer=204_700,
        complaint={
            "words": "No power uphill, stutters at full throttle, gets worse the longer I drive.",
            "happens": ["accelerating", "uphill"],
            "warning_lights": ["engine"],
            "authorised_minutes": 120,
            "authorised_by": "Ottilie Brackenridge",
            "authorised_how": "phone",
        },
        codes="P0300 stored",
        misfires={1: 21, 2: 18, 3: 24, 4: 19},
        cranks="even",
        battery_v=12.6,
        remarks="Hardly any gas at the tailpipe when revved.",
        triage={"oil_level": "ok", "coolant_level": "ok", "plugs_age": 30_000},
        crank=DemoCrank(951, "I4", "none", file_name="estuary-crank.csv"),
        pressures=(
            DemoPressure(61, 1, 46.0, "estuary-cylinder-1.csv"),
            DemoPressure(62, 3, 46.0, "estuary-cylinder-3.csv"),
        ),
        sign="exhaust",
        reason="Cranks evenly, all cylinders misfire alike, and the pressure in cylinders 1 and 3 "
        "stays high in the exhaust stroke: the exhaust holds back.",
        order="done",
        findings=(
            DemoFinding(
                "exhaust",
                "bad",
                is_whole_engine=True,
                figures={"back_idle_kpa": 21.0, "back_fast_kpa": 58.0},
            ),
        ),
        summary="Back pressure before the catalyst far over the limit; behind it next to none.",
        left_out="The back pressure named the catalyst.",
        pressures_after=(DemoPressure(63, 1, 4.0, "estuary-after.csv"),),
        outcome={
            "cause": "Catalyst molten: over 40 kPa held back at idle in cylinders 1 and 3, 58 kPa "
            "at 2500 rpm.",
            "correction": "Catalyst renewed.",
            "verified": "yes",
            "verified_how": "Pressure in cylinder 1 measured again, and misfires counted over the "
            "same drive.",
            "drive": "20 km with the long hill, engine warm",
            "misfires_before": 82,
            "misfires_after": 0,
            "told_customer": "The catalyst was blocked, so that the engine could not breathe out. "
            "It is new, and the engine breathes freely again.",
        },
    ),
)
