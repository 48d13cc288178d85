"""Text to a tree of frozen nodes, and back. Front doors: `parse.parse`, `printer.print_tree`."""
