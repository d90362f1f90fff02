"""Facts of the trade, each with its source: hazards, form factors, materials, limits."""
