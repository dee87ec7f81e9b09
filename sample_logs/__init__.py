"""An invented museum: its loggers' exports and its register, for the demo and the examples."""
