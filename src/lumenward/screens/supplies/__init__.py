"""The screen Supplies: lots in use, strips and their proof, connector sets and their lives."""
