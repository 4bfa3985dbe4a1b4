"""Views into HTML."""
