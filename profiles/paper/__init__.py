"""The tiler: template drawings -> pages -> SVG and PDF, and the proof of both."""
