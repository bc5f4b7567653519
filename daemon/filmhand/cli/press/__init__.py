"""The commands that measure a press or a printer: wedge, exposure, calibrate, curves, ruler."""
