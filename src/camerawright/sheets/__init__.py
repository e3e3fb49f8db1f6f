"""Papers: certificate, refit sheet, bill."""
