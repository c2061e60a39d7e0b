"""Helpers of this room."""
