"""The operations of the workshop: the only place that joins the crafts with the store."""
