"""Instruments: calibration as dated layers, fixed points, two loggers side by side, uncertainty."""
