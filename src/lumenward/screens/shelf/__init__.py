"""The screen Shelf: what is ready, until when, and why not."""
