"""Signals beside the starter current that show compressions, behind the same report.

`judging` is the way in. Battery voltage sags with the starter current and is judged like it;
a crank sensor's teeth show the speed, which the twin predicts as well as the current. Both are
trusted less, and each report says so.
"""
