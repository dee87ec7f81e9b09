"""Numbers in, numbers out.

Nothing in this package opens a file other than its own tables in ``published``, reads a clock,
talks to a network or draws. Times are UTC, temperatures °C, humidities per cent, pressures Pa;
lengths are SI inside a calculation and millimetres where a person writes them down.
"""
