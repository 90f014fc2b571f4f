"""One module for each mesh format: bytes in, `content.Content` out, in the file's own unit and axes."""
