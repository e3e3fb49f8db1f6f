"""An invented workshop, made with the simulators."""
