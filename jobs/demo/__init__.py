"""An invented shop with six invented vehicles, their captures made by the simulator."""
