"""The job book: everything that a builder needs beside the templates, as one PDF."""
