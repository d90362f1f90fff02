"""The demo workshop: its artwork, its scenario and its builder. Ships as ``salvage.demo_db``."""
