"""The screen Basins: each charge, its tests, its age, who lay in it, how far it may go."""
