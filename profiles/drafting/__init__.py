"""Drawings of a body at true size, markings laid along its skin, and panels of the skin laid flat."""
