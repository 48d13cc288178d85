"""Built-in calculations, each declared once: what it takes and gives, formula, source, standing, caution."""
