"""What each finding is in the curve, and what it does to the judgement: two sentences each."""

from collections.abc import Mapping
from types import MappingProxyType

from traces.core.findings import PLUG_AIDS, Severity
from traces.core.setup import Signal

_NOT_JUDGED_SHAPE = "Without true tops no hump can be measured, so nothing is judged."

BY_CODE: Mapping[tuple[str, Severity], tuple[str, str]] = MappingProxyType(
    {
        **PLUG_AIDS,
        ("no-signal", "stop"): (
            "A starter draws tens to hundreds of amps, which lifts the curve far above rest; here "
            "it stays near one level all through.",
            "There is nothing to compare, so the recording is not judged; this says nothing about "
            "the engine.",
        ),
        ("wrong-conductor", "stop"): (
            "Only the cable that feeds the starter, or all battery negative cables together, carry "
            "the current that rises and falls with every compression.",
            "What the clamp saw belongs to something else, so no cylinder is judged from it.",
        ),
        ("clipped", "stop"): (
            "Clamp or recorder came to the end of their range, and everything above it is drawn as "
            "a flat top.",
            "A tall hump and a taller one then look the same, so nothing is judged.",
        ),
        ("too-short", "stop"): (
            "Each cylinder shows once in two crank turns, and single humps differ a little by "
            "chance.",
            "With so few of them chance and a weak cylinder cannot be told apart, so nothing is "
            "judged.",
        ),
        ("too-long", "stop"): (
            "A crank lasts seconds; in hours of recording it is a stroke too thin to see.",
            "Nothing is looked for in so much, and nothing is judged.",
        ),
        ("engine-caught", "stop"): (
            "Once the engine fires it turns itself, the starter is relieved, and the current falls "
            "away although the pistons still compress.",
            "Too little cranking came before that, so nothing is judged.",
        ),
        ("engine-caught", "warn"): (
            "Once the engine fires it turns itself, the starter is relieved, and the current falls "
            "away although the pistons still compress.",
            "Only the cycles before that are compared; fewer cycles make wider intervals.",
        ),
        ("unsteady", "stop"): (
            "The same cylinder's hump changes so much from cycle to cycle that its usual height "
            "cannot be told; a battery that sags or a load that switches can do that.",
            "Differences between cylinders would drown in it, so nothing is judged.",
        ),
        ("low-rate", "stop"): (
            "A hump lasts about a tenth of a second; with so few samples its top falls between two "
            "of them.",
            _NOT_JUDGED_SHAPE,
        ),
        ("low-rate", "warn"): (
            "With few samples a hump the true top often falls between two of them.",
            "Cylinders are compared all the same; small differences are less certain.",
        ),
        ("hump-mismatch", "stop"): (
            "Two crank turns bring one compression of each cylinder, so the humps of a cycle must "
            "be as many as the cylinders entered.",
            "Laid over the wrong firing order each figure would mix several cylinders, so nothing "
            "is judged.",
        ),
        ("angles-unlikely", "stop"): (
            "Each hump stands where a cylinder nears the end of its compression, so the distances "
            "between humps show how far apart the engine fires.",
            "With the wrong firing angles one cylinder is given what its neighbour lacks, as if a "
            "whole bank were low, so nothing is judged.",
        ),
        ("angles-doubted", "warn"): (
            "The distances between humps show how far apart the engine fires; here two spacings "
            "fit about as well.",
            "With the wrong firing angles every other cylinder reads too low or too high.",
        ),
        ("sync-mismatch", "stop"): (
            "A sync event must come at the same crank angle every time, close to its cylinder's "
            "hump; these do not.",
            "Humps would be given to the wrong cylinders, so nothing is judged rather than the "
            "wrong one accused.",
        ),
        ("method-does-not-apply", "stop"): (
            "The drive motor turns this engine, fed by its own battery, and no starter cable "
            "carries a current that shows the compressions.",
            "No curve from a clamp can be judged here, however good it looks.",
        ),
        ("speed-implausible", "warn"): (
            "Speed is worked out of how fast the humps follow each other and how many belong to "
            "two turns: with too few cylinders entered it comes out too high, and with every other "
            "hump missing too low.",
            "If the number is wrong, each figure mixes several cylinders; check it before you "
            "trust the verdict.",
        ),
        ("poor-fit", "stop"): (
            "Compressed air loads the starter in a shape that is known; what this curve does is "
            "another shape, as from another load on the cable or another engine.",
            "Figures taken from it would not be compression, so nothing is judged.",
        ),
        ("time-reversed", "stop"): (
            "Current climbs against a compression and falls off after it, when the engine runs "
            "ahead of the starter; here rise and fall look exchanged.",
            "A curve that fits better read from its end is not what it was taken for, so nothing "
            "is judged.",
        ),
        ("time-reversed", "warn"): (
            "Current climbs against a compression and falls off after it, when the engine runs "
            "ahead of the starter; here rise and fall can hardly be told apart.",
            "The figures stand, but something in the curve is not as the fitted engine has it.",
        ),
        ("plain-reading", "warn"): (
            "A compressed charge pushes the piston down again, so the crank speeds up and the "
            "starter draws less after each compression; how much was read off the curve.",
            "Alike means no weak cylinder; a figure far under the others means a weak one, but "
            "how weak it is cannot be said as closely as from a fit.",
        ),
        ("plain-reading", "note"): (
            "A compressed charge pushes the piston down again, so the crank speeds up and the "
            "starter draws less after each compression; how much was read off the curve.",
            "It tells what the curve looks like and is no verdict: the capture is not judged.",
        ),
        ("no-compression", "stop"): (
            "Each compression should make the starter work harder for a moment; here its load is "
            "nearly even, as with the plugs out or valves that stay open.",
            "With no humps nothing can be compared; that all cylinders are empty is possible and "
            "has to be looked for another way.",
        ),
        ("gaps", "stop"): (
            "The recorder lost samples for a time in which a whole hump can hide.",
            "What happened there is not guessed at, so nothing is judged.",
        ),
        ("gaps", "note"): (
            "Single samples are missing, and a straight line was drawn from neighbour to "
            "neighbour.",
            "The holes are much shorter than a hump and do not change the figures.",
        ),
        ("sync-missing", "warn"): (
            "On the sync channel nothing stands out that comes once or twice in two crank turns.",
            "The figure of each place in the firing order holds; which cylinder it belongs to "
            "stays open.",
        ),
        ("sync-missing", "note"): (
            "The current alone shows which hump follows which, but not with which cylinder the "
            "row begins.",
            "The figure of each place in the firing order holds; which cylinder it belongs to "
            "stays open.",
        ),
        ("sync-angle-unknown", "warn"): (
            "The event keeps to two crank turns, but it may stand anywhere in them: petrol is "
            "injected in any stroke, and a cam's edges are where its manufacturer put them.",
            "The figure of each place in the firing order holds; its cylinder stays open until the "
            "angle, or which of several edges it belongs to, is known.",
        ),
        ("cam-edge-unsure", "warn"): (
            "A cam's signal has two edges; the one at which it leaves the level where it stays "
            "longer counts, and here neither level lasts clearly longer.",
            "The figures hold; which cylinder each belongs to depends on the edge whose angle is "
            "known.",
        ),
        ("sync-paired-first", "note"): (
            "Until the control unit knows which of two turns it is in, it may fire two coils at "
            "once; the event that goes on alone is the cylinder's own.",
            "Cylinders are named by the later events; the figures do not depend on that.",
        ),
        ("sync-every-360", "warn"): (
            "The event comes in every crank turn, but a cylinder compresses only in every other "
            "one; its partner comes up in the turns between.",
            "The figures hold; which of two cylinders each belongs to stays open.",
        ),
        ("inverted", "note"): (
            "A clamp reads a current that comes from the other side as negative; a starter that "
            "cranks cannot send current back, so the curve was only upside down.",
            "It was inverted before anything was measured, and the verdict is not affected.",
        ),
        ("inverted", "warn"): (
            "Cranking should lift the current off its rest with a tall inrush at the start; with "
            "the sign that was entered it hangs below.",
            "Humps and valleys may have changed places, so do not trust the verdict before the "
            "sign is settled.",
        ),
        ("inverted", "stop"): (
            "A starter pulls the battery's voltage down, and each compression a little further; "
            "here it goes the other way.",
            "This is not the battery's voltage as it should be, so nothing is judged.",
        ),
        ("scale-implausible", "warn"): (
            "The clamp gives volts, and its switch says how many amps a volt stands for; with the "
            "scale that was entered the amps are not those of a starter.",
            "Cylinders are compared with each other, so the scale cancels out; only the amps "
            "are in doubt.",
        ),
        ("scale-implausible", "note"): (
            "The file holds values as a fraction of full scale, and nobody said how many volts "
            "full scale is.",
            "Cylinders are compared with each other, so the scale cancels out; only the amps "
            "are not known.",
        ),
        ("zero-implausible", "stop"): (
            "A clamp on an idle cable reads next to nothing, and here the level at rest is several "
            "times what the crank adds, as on a battery's voltage.",
            "What the channel shows is then unlikely to be the starter's current, so nothing is "
            "judged.",
        ),
        ("zero-unknown", "stop"): (
            "Without a rest beside the crank, nothing shows where zero is, and a clamp that was "
            "not zeroed can turn the sign of all that is read.",
            "Read upside down, gaps between humps would be taken for compressions, so nothing "
            "is judged.",
        ),
        ("coarse-steps", "stop"): (
            "The recorder rounds to whole steps, and only a few of them lie between the gap and "
            "the top of a hump.",
            "Corners made by the rounding would be read as compression, so nothing is judged.",
        ),
        ("coarse-steps", "warn"): (
            "The recorder rounds to whole steps, and not many of them lie between the gap and the "
            "top of a hump.",
            "The figures may be off by more than their intervals say.",
        ),
        ("drift", "note"): (
            "The whole curve slides up or down during the crank: the battery tires, friction "
            "changes, or the clamp's zero wanders.",
            "Each hump is measured against the valleys beside it, so the slide hardly touches the "
            "figures.",
        ),
        ("load-on-cable", "note"): (
            "Before the key was turned the clamp read a current already: it was not zeroed, or "
            "something was switched on.",
            "The offset is the same under all humps and does not change how they compare.",
        ),
        ("neighbour-effect", "note"): (
            "A good cylinder, once over the top, pushes the crank on with the charge it has "
            "compressed; a weak one has little left to push with, and the starter has to do more "
            "at the next compression.",
            "The fitted model takes that out of the relative figures; the plain hump height still "
            "has it.",
        ),
        ("which-cylinder", "warn"): (
            "The sync event stands nearly as far from one cylinder's top dead centre as from the "
            "next one's.",
            "The figures hold; the low cylinder's number may be that of its neighbour in the "
            "firing order.",
        ),
        ("hand-shift", "warn"): (
            "The figures belong to places in the firing order; moving the labels gives them other "
            "numbers and leaves the figures as they are.",
            "The numbers are as good as the reason for moving them.",
        ),
        ("hand-shift", "note"): (
            "Without an event of a known cylinder the curve shows places in the firing order only.",
            "There is no number yet that could be moved.",
        ),
        ("hand-mark", "warn"): (
            "One event of a known cylinder is enough to number all humps, because the firing order "
            "gives the others.",
            "A mark by eye is some 10 degrees off, which matters the more the closer the firings "
            "are.",
        ),
        ("hand-mark", "note"): (
            "A recorded event comes in every cycle and is placed closer than a mark by eye.",
            "So it goes first where it says as much.",
        ),
        ("hand-span", "note"): (
            "The cycle, the mean and every figure come from the stretch alone.",
            "What the crank shows outside of it may say something else, and stays to be looked at.",
        ),
        ("hand-left-out", "warn"): (
            "Those cycles are in no mean and in no interval.",
            "Leaving out what is odd makes figures look steadier than the engine is.",
        ),
        ("hand-left-out", "note"): (
            "Cycles are left out whole, with more than their edge in the stretch.",
            "Every cycle of the crank is told below with its use.",
        ),
        ("bank-uneven", "warn"): (
            "The humps of one bank are lower than those of the other, each by about as much.",
            "The cylinders of a bank agree, so that no single one stands out; which of the two "
            "banks is the wrong one the trace cannot tell.",
        ),
        ("bank-uncertain", "warn"): (
            "Banks alternate as fast as the firing itself, so that what the crank and the starter "
            "do may hide a difference between them.",
            "Single cylinders are judged as usual; for the banks the interval is wider than one "
            "tooth of a camshaft makes.",
        ),
        ("comes-and-goes", "warn"): (
            "The humps of this cylinder are low in some cycles and as high as the others in "
            "between.",
            "The figure over all cycles lies between the two and says less than the single cycles.",
        ),
        ("low-at-first", "warn"): (
            "The humps of this cylinder begin low and grow to the height of the others while the "
            "engine is cranked.",
            "The figure over all cycles hides that; look at the first ones by themselves.",
        ),
        ("high-hump", "warn"): (
            "The starter had to work harder at this cylinder than at all others, beyond what a "
            "weak neighbour explains, as when liquid or carbon takes up room in it.",
            "Nothing is wrong with the comparison; it is a warning to look inside before the "
            "engine is cranked again.",
        ),
        ("one-reference", "warn"): (
            "Every figure is relative to the cylinders that look good, and only one does here.",
            "If that one is not good either, or stands high, all figures are off together.",
        ),
        ("reference-doubtful", "warn"): (
            "One hump, or few, stands far above all others, and these are much alike: a high one "
            "among good ones looks the same as a good one among weak ones.",
            "Intervals hold both readings, so that no cylinder is accused by the one alone.",
        ),
        ("event-not-measured", "warn"): (
            "An event's angle counts from a top dead centre whose cylinder is certain.",
            "Nothing is kept with the engine; the figures of this capture are not touched by it.",
        ),
        ("relative-only", "note"): (
            "The current shows how the cylinders differ, not what pressure they reach.",
            "Wear that is equal in all leaves the humps alike, and the verdict even.",
        ),
        ("lower-trust", "warn"): (
            "Compression shows less clearly here than in the starter's current.",
            "The intervals are wider, and what cannot be called safely is not called.",
        ),
        ("rest-assumed", "warn"): (
            "How far the starter pulls the voltage down is measured from the rest before the "
            "crank, which was not recorded.",
            "A usual rest was taken instead; cylinders compare as before, levels less surely.",
        ),
        ("teeth-unclear", "stop"): (
            "Teeth pass the sensor at even distances but for one gap; these edges do not come like "
            "that.",
            "Without the wheel there is no speed to look at, so nothing is judged.",
        ),
        ("too-uncertain", "warn"): (
            "The interval beside a figure is where the true one lies in 19 of 20 recordings, and "
            "here it reaches from weak to sound.",
            "The figure is shown, but it neither accuses nor clears that cylinder.",
        ),
        ("too-uncertain", "stop"): (
            "The interval of a cylinder reaches from clearly low to sound.",
            "A call would be a guess, so none is made.",
        ),
    }
)

BY_SIGNAL: Mapping[tuple[Signal, str], str] = MappingProxyType(
    {
        ("battery-voltage", "no-signal"): "A starter pulls the battery down by a volt or more for "
        "as long as it cranks; here the voltage stays near one level.",
        ("battery-voltage", "clipped"): "The recorder came to the end of its range, and everything "
        "below it is drawn as a flat floor.",
        ("battery-voltage", "engine-caught"): "Once the engine fires it turns itself, the starter "
        "is relieved, and the voltage recovers although the pistons still compress.",
        (
            "battery-voltage",
            "drift",
        ): "The whole curve slides during the crank, as that of a battery does that is not full.",
        ("battery-voltage", "neighbour-effect"): "A good cylinder, once over the top, pushes the "
        "crank on with the charge it has compressed; a weak one has little left to push with, and "
        "the next compression pulls the battery down further.",
        ("battery-voltage", "high-hump"): "The battery was pulled down further at this cylinder "
        "than at all others, beyond what a weak neighbour explains, as when liquid or carbon takes "
        "up room in it.",
        ("crank-teeth", "no-signal"): "Every tooth that passes the sensor makes an edge; this "
        "channel has hardly any.",
        ("crank-teeth", "low-rate"): "Speed is known once a tooth, and with so few teeth a "
        "compression falls between two of them.",
        ("crank-teeth", "engine-caught"): "Once the engine fires it turns itself, faster than any "
        "starter would.",
        (
            "crank-teeth",
            "drift",
        ): "The speed changes over the whole crank, as it does when the battery tires.",
        ("crank-teeth", "no-compression"): "Each compression should slow the crank for a moment; "
        "here it turns nearly evenly, as with the plugs out or valves that stay open.",
        ("crank-teeth", "neighbour-effect"): "A good cylinder, once over the top, pushes the "
        "crank on with the charge it has compressed; a weak one has little left to push with, and "
        "the crank slows more at the next compression.",
        ("crank-teeth", "high-hump"): "The crank slowed more at this cylinder than at all others, "
        "beyond what a weak neighbour explains, as when liquid or carbon takes up room in it.",
    }
)
"""Where another signal shows the same thing in another way: the first sentence anew."""
