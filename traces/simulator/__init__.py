"""Simulated captures with known truth: cranking, and idling in `running`.

An engine is cranked by its starter with the fuel off; in-cylinder gas, crank, clutch, motor and
battery are integrated over time and seen through a clamp and a sync pick-up. The analysis must
not import from here: of the physics it shares the slider-crank linkage alone.
"""
