"""Pictures: photos taken in, turned upright, stripped of their metadata, and drawn on."""
