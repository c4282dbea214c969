"""The chemistry of the room: dosing, sink temperature, basin dilution, heat, time in a window, kinetics."""
