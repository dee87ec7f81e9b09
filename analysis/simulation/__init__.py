"""The chain run for works, draws and hours: the one loop, its draws, phases and checkpoints."""
