"""The journal and its projection, photo and shape files, migrations and backup."""
