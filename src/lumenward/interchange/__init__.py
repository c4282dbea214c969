"""Between us and the world of labels, files and pictures."""
