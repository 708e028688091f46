"""An invented shop with eight invented vehicles, their captures made by the simulator."""
