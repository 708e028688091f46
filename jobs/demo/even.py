"""The demo's vehicles that crank evenly and misfire all the same. All of it is invented."""

from jobs.demo.story import DemoCrank, DemoFinding, DemoSwap, Story

EVEN: tuple[Story, ...] = (
    Story(  # healthy: the misfire is one of ignition
        customer={"name": "Leopold Finchley", "phone": "555 0121"},
        vehicle={
            "plate": "WS 640 OT",
            "vin": "00CST9K34PB918877",
            "make": "Ostrin",
            "model": "Vale 1.2",
            "year": 2021,
            "engine_code": "OV12",
        },
        odometer=41_260,
        complaint={
            "words": "Bucks in the wet, otherwise fine.",
            "happens": ["wet", "accelerating"],
            "warning_lights": ["engine_flashing"],
            "authorised_minutes": 60,
            "authorised_by": "Leopold Finchley",
            "authorised_how": "person",
        },
        codes="P0302 stored\nP0302 permanent",
        misfires={1: 0, 2: 96, 3: 1},
        cranks="even",
        battery_v=12.7,
        remarks="Turns over evenly; misfire follows the coil.",
        crank=DemoCrank(815, "I3", "none", file_name="vale-crank.csv"),
        sign="ignition",
        misfiring=(2,),
        reason="Cranks evenly and the misfire moved with the coil: ignition, cylinder 2.",
    ),
    Story(  # even, solved by a swap test
        customer={"name": "Harriet Oakshott", "phone": "555 0134"},
        vehicle={
            "plate": "RV 419 AM",
            "vin": "00HLN4T56RK208815",
            "make": "Hollin",
            "model": "Kestrel 1.4",
            "year": 2018,
            "engine_code": "HK14",
            "stop_start": "yes",
        },
        odometer=112_340,
        complaint={
            "words": "Jerks when I pull away and the engine lamp flashes.",
            "happens": ["pulling_away", "accelerating"],
            "warning_lights": ["engine_flashing"],
            "authorised_minutes": 60,
            "authorised_by": "Harriet Oakshott",
            "authorised_how": "phone",
        },
        codes="P0302 stored\nP0300 pending",
        misfires={1: 2, 2: 143, 3: 3, 4: 1},
        cranks="even",
        battery_v=12.6,
        remarks="",
        triage={"oil_level": "ok", "coolant_level": "ok", "plugs_age": 52_000},
        crank=DemoCrank(924, "I4", "none", file_name="kestrel-crank.csv"),
        sign="ignition",
        misfiring=(2,),
        order="done",
        swaps=(
            DemoSwap("coil", 2, 4, "yes", {1: 2, 2: 143, 3: 3, 4: 1}, {1: 1, 2: 0, 3: 2, 4: 128}),
        ),
        findings=(
            DemoFinding(
                "plugs", "good", cylinder=2, figures={"gap_mm": 0.8, "plug_look": "normal"}
            ),
            DemoFinding("coil", "bad", cylinder=2, figures={"primary_peak_a": 3.1}),
            DemoFinding("coil", "good", cylinder=4, figures={"primary_peak_a": 7.4}),
        ),
        summary="The misfire followed the coil from cylinder 2 to cylinder 4.",
        left_out="The swap named the coil.",
        outcome={
            "cause": "Ignition coil of cylinder 2; the misfire followed it to cylinder 4.",
            "correction": "Coil renewed, the other one back in its place.",
            "verified": "yes",
            "verified_how": "Misfires counted over the same drive before and after.",
            "drive": "12 km through town and uphill, engine warm",
            "misfires_before": 143,
            "misfires_after": 0,
            "told_customer": "One ignition coil failed under load, so one cylinder missed when you "
            "pulled away. The coil is new, and no misfire was counted on the same drive.",
        },
    ),
    Story(  # even, solved by an injector balance
        customer={"name": "Gideon Marchbanks", "phone": "555 0158"},
        vehicle={
            "plate": "DK 862 PY",
            "vin": "00SDG7W28HL660317",
            "make": "Sedgeway",
            "model": "Tourer 1.6",
            "year": 2012,
            "engine_code": "ST16",
            "stop_start": "no",
        },
        odometer=167_900,
        complaint={
            "words": "Runs rough at the lights and smells of petrol since it stood all summer.",
            "happens": ["idle", "after_standing"],
            "warning_lights": ["engine"],
            "authorised_minutes": 90,
            "authorised_by": "Gideon Marchbanks",
            "authorised_how": "person",
        },
        codes="P0303 stored\nP0171 pending",
        misfires={1: 3, 2: 1, 3: 88, 4: 2},
        cranks="even",
        battery_v=12.5,
        remarks="",
        triage={
            "oil_level": "ok",
            "coolant_level": "ok",
            "coolant_loss": "no",
            "oil_loss": "no",
            "plugs_age": 20_000,
            "fuel_work": "Fuel filter",
            "fuel_work_odometer": 151_000,
        },
        crank=DemoCrank(937, "I4", "none", file_name="tourer-crank.csv"),
        sign="fuel",
        misfiring=(3,),
        order="done",
        findings=(
            *(
                DemoFinding(
                    "injector",
                    "bad" if number == 3 else "good",
                    cylinder=number,
                    figures={"drop_kpa": drop},
                )
                for number, drop in ((1, 70.0), (2, 68.0), (3, 34.0), (4, 66.0))
            ),
        ),
        summary="Injector 3 lets through half of what the others do.",
        left_out="The balance named the injector.",
        outcome={
            "cause": "Injector of cylinder 3 clogged: its pulse dropped the pressure by 34 kPa, "
            "those of the others by 66 to 70 kPa.",
            "correction": "Injector 3 renewed, filter changed.",
            "verified": "yes",
            "verified_how": "Misfires counted over the same drive before and after.",
            "drive": "15 minutes in town with ten stops, engine warm",
            "misfires_before": 88,
            "misfires_after": 1,
            "told_customer": "One fuel injector was clogged after the long standing, so one "
            "cylinder got too little fuel at idle. It is new, and the engine idles evenly again.",
        },
    ),
)
