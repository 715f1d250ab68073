"""Tables, pages and drawings as text."""
