"""What channels are called where nobody's own names go along: by their part in the test."""

CLAMP = "clamp"
SYNC = "sync"
BATTERY = "battery voltage"
CRANK_SENSOR = "crank sensor"
TRANSDUCER = "transducer"
