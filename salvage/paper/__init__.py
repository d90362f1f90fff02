"""Printed documents: labels, receipts and story cards through one typesetting engine."""
