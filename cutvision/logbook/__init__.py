"""The logbook: jigs and their runs, kept with the files they rest on. Nothing in it is overwritten."""
