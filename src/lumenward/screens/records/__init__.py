"""The screen Records: any cycle as one page to print, any export, the proof."""
