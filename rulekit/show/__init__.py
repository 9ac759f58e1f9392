"""What people and programs get to see: reports, lists and sheets as text, and JSON."""
