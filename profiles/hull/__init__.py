"""The mesh loader: file -> triangles in mm -> repaired surface -> hull -> sections."""
