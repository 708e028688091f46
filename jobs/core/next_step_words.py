"""What a job's next step is called: on the button, to whoever takes it, and to all others."""

from dataclasses import dataclass

from jobs.core.next_step import Step
from shopdiag.people.core.words import gettext_noop as _


@dataclass(frozen=True, slots=True)
class StepWords:
    """Message ids: the button, why it is next, and what others wait for."""

    label: str
    why: str
    waits: str


WORDS: dict[Step, StepWords] = {
    Step.COMPLAINT: StepWords(
        _("Write down the complaint"),
        _("The customer's own words come first."),
        _("The service writer writes down the complaint."),
    ),
    Step.LISTEN: StepWords(
        _("Note how it cranks"),
        _("Cranking sound, battery and codes tell whether a capture is worth it."),
        _("The diagnostician listens to it crank."),
    ),
    Step.UPLOAD: StepWords(
        _("Upload a capture"),
        _("Read the cautions, crank it with the clamp on, then upload the recording."),
        _("The diagnostician records the cranking current."),
    ),
    Step.SET_UP: StepWords(
        _("Set up the capture"),
        _("The recording is here. Say how it was made, then it is analysed."),
        _("The diagnostician says how the recording was made."),
    ),
    Step.ANALYSING: StepWords(
        _("Open the capture"),
        _("The recording is being read or analysed."),
        _("The recording is being read or analysed."),
    ),
    Step.LOOK_AGAIN: StepWords(
        _("See why it is not judged"),
        _("No capture could be judged. Its page says what to change before the next one."),
        _("No capture could be judged. The diagnostician records another one."),
    ),
    Step.SIGN: StepWords(
        _("Sign the verdict"),
        _("A capture is judged. Accept the verdict, or overrule it with a reason."),
        _("The diagnostician signs the verdict."),
    ),
    Step.SIGN_AGAIN: StepWords(
        _("Sign another verdict"),
        _("No work order can be made from the verdict that stands."),
        _("The diagnostician signs another verdict."),
    ),
    Step.DECIDE: StepWords(
        _("Decide without a capture"),
        _("The cranking test does not apply to this vehicle."),
        _("The diagnostician decides without a capture."),
    ),
    Step.MAKE_ORDER: StepWords(
        _("Make a work order"),
        _("The verdict is signed. The work order carries it to the mechanic."),
        _("The diagnostician makes a work order from the signed verdict."),
    ),
    Step.REPLACE_ORDER: StepWords(
        _("Withdraw the work order"),
        _("It was made from an earlier verdict. Withdraw it and make one from the newest."),
        _("Stop: the work order was made from an earlier verdict. The diagnostician withdraws it."),
    ),
    Step.CALL_BACK: StepWords(
        _("Answer on the work order"),
        _("The work is stopped. Call whoever stopped it, then write down what you agreed."),
        _("The work is stopped until the diagnostician calls."),
    ),
    Step.ANSWER: StepWords(
        _("Answer the question"),
        _("The work order has a question that nobody answered."),
        _("The diagnostician answers the question on the work order."),
    ),
    Step.ACCEPT: StepWords(
        _("Read and accept the work order"),
        _("Cylinder, tests and cautions stand on it."),
        _("A mechanic accepts the work order."),
    ),
    Step.RECORD: StepWords(
        _("Record the findings"),
        _("The work order is yours until it is completed."),
        _("The mechanic works through the order and records the findings."),
    ),
    Step.CALL: StepWords(
        _("Note the customer's answer"),
        _("The diagnosis is done. Call the customer: no repair starts before a yes."),
        _("The diagnosis is done. The service writer calls the customer about the repair."),
    ),
    Step.NEW_CONSENT: StepWords(
        _("Note the new consent"),
        _("More is used than was agreed. Call the customer and note what they agree to now."),
        _("More is used than was agreed. The service writer calls the customer."),
    ),
    Step.ORDER_REPAIR: StepWords(
        _("Order the repair"),
        _("The customer agreed to the repair."),
        _("The customer agreed. The diagnostician orders the repair."),
    ),
    Step.SIGN_REPAIR: StepWords(
        _("Sign what is to be repaired"),
        _("The customer agreed. The repair is ordered from a verdict that names what is bad."),
        _("The customer agreed. The diagnostician signs what is to be repaired."),
    ),
    Step.PROVE: StepWords(
        _("Upload a capture after the repair"),
        _("Crank it again under the same conditions as the first time."),
        _("The diagnostician verifies the repair with a second capture."),
    ),
    Step.VERIFY: StepWords(
        _("Note whether the repair holds"),
        _("Compare before and after, then write cause and correction."),
        _("The diagnostician notes whether the repair holds."),
    ),
    Step.WRITE_UP: StepWords(
        _("Write cause and correction"),
        _("Both stand on the customer copy. If no repair was wanted, say so."),
        _("The diagnostician writes cause and correction."),
    ),
    Step.TO_DELIVERY: StepWords(
        _("Move it to delivery"),
        _("Cause and correction are written."),
        _("The service writer takes it to delivery."),
    ),
    Step.DELIVER: StepWords(
        _("Close the job"),
        _("Hand over the vehicle with its customer copy, then close the job."),
        _("The service writer hands over the vehicle."),
    ),
    Step.DONE: StepWords("", _("This job is closed."), _("This job is closed.")),
}
