"""The only room that knows the terminal: screens and widgets over core values."""
