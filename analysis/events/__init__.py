"""What happened in the air: swings, excursions, spikes, steps, silences, and their likely cause."""
