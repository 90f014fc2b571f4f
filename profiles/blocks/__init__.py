"""The profile extractor: hull and foam thickness -> stations -> outlines -> blocks."""
