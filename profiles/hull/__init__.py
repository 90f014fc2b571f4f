"""The mesh loader: file -> triangles in mm -> mended surface -> hull -> sections."""
