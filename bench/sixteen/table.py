"""The sixteen vehicles as a page of the documentation, once Django is set up."""

from django.core.management import call_command

from bench.sixteen.carrying import Carried, carry, open_shop
from bench.sixteen.cranks import simulated
from bench.sixteen.vehicles import Vehicle, vehicles

HEAD = """\
# Sixteen vehicles from complaint to proof

`python -m bench.sixteen --write` writes this page: each vehicle of `bench/sixteen/vehicles.toml` is
carried through the service, from complaint to delivery, and what stands under *said* is what the
product said at that step. What a master technician would have done was written down before the
product was asked; it is common practice of the trade. The cranking captures are simulated with the
vehicle's fault (`bench/sixteen/cranks.py`: the three physics in turn, no seed picked by what came
of it) and analysed as any other; what the simulator put in stands beside what the analysis called.
No record is free text that stands in for a test; `tests/bench/test_sixteen.py` holds that, the
causes and the proofs, with captures whose results are given.
"""


def table() -> str:
    """Return the page."""
    call_command("migrate", verbosity=0)
    call_command("load_engines", verbosity=0)
    shop = open_shop()
    carried = [(vehicle, carry(vehicle, shop, simulated)) for vehicle in vehicles()]
    parts = [HEAD, _short(carried), *(_one(n, *pair) for n, pair in enumerate(carried, start=1))]
    return "\n".join(parts)


def _short(carried: list[tuple[Vehicle, Carried]]) -> str:
    lines = [
        "| | vehicle | put in | capture | plan's first test | the master's "
        "| cause at the end | proof |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for number, (vehicle, done) in enumerate(carried, start=1):
        lines.append(
            f"| {number} | {vehicle.title} | {_put_in(vehicle)} | {done.called} "
            f"| {done.first_tests[0] if done.first_tests else '–'} "
            f"| {vehicle.master_tests[0]}{_where(vehicle, done)} | {done.cause} | {done.proof} |"
        )
    count = len(carried)
    firsts = sum(vehicle.master_tests[0] == done.first_tests[0] for vehicle, done in carried)
    among = sum(vehicle.master_tests[0] in done.first_tests for vehicle, done in carried)
    all_of = sum(set(vehicle.master_tests) <= set(done.first_tests) for vehicle, done in carried)
    shown = sum(done.is_shown for _vehicle, done in carried)
    rest = "." if shown == count else "; on the others it led."
    lines += [
        "",
        f"The plan began with the master's first test on {firsts} of {count} vehicles and had it "
        f"among its first three on {among}; all of the master's first three were its first three "
        f"on {all_of}. A test showed the cause on {shown}{rest}",
    ]
    return "\n".join(lines) + "\n"


def _put_in(vehicle: Vehicle) -> str:
    """Return what the simulator put into the engine."""
    fault = vehicle.fault
    said = [f"{leak:g} mm² on {n}" for n, leak in fault.get("leaks_mm2", {}).items()]
    said += [f"lobe of {n} {100 * lift:.0f} %" for n, lift in fault.get("intake_lift", {}).items()]
    if "gasket_mm2" in fault:
        one, other = fault["between"]
        said.append(f"{fault['gasket_mm2']:g} mm² between {one} and {other}")
    if "late_deg" in fault:
        said.append(f"{vehicle.weaker_bank} {fault['late_deg']:g}° late")
    return ", ".join(said) or "nothing"


def _where(vehicle: Vehicle, done: Carried) -> str:
    first = vehicle.master_tests[0]
    if first not in done.first_tests:
        return " (not among the first three)"
    place = done.first_tests.index(first) + 1
    return "" if place == 1 else f" (number {place})"


def _one(number: int, vehicle: Vehicle, done: Carried) -> str:
    lines = [f"## {number}. {vehicle.title}", "", f"**Came in.** {vehicle.words}", ""]
    lines += ["| step | said |", "| --- | --- |"]
    lines += [f"| {step} | {'<br>'.join(said) or '–'} |" for step, said in done.steps]
    lines += ["", "**A master technician** would have done, in this order:", ""]
    lines += [f"{place}. {words}" for place, words in enumerate(vehicle.master, start=1)]
    return "\n".join(lines) + "\n"
