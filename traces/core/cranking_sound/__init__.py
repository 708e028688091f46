"""Sound of cranking, from a telephone: how fast, and whether compressions sound alike.

A hint that says whether to take the clamp at once. It names no cylinder and gives no figure of
compression: loudness is not torque, and a room, a telephone and a voice are in it.
"""

from traces.core.cranking_sound.evenness import Answer, CrankingSound, Reason, judge_sound
from traces.core.cranking_sound.sentences import heard_words

__all__ = ["Answer", "CrankingSound", "Reason", "heard_words", "judge_sound"]
