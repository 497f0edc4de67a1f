"""The only code that touches devices and files."""
