"""Reduced pictures and plots: the body, its sections, deviation along the hull."""
