"""Owners, cameras, jobs and bills. Pure."""
