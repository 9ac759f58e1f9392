"""What an editor shows of rules while they are written; ``server`` speaks the language-server protocol."""
