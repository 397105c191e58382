"""The screen and the command line over `scheduling`."""
