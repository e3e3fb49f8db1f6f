"""The set-up check: an LED on the headphone output, seen by the light sensor on the input. Not a test of a camera."""
