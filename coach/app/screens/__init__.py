"""The Textual screens: they show what the core says and send what is typed."""
