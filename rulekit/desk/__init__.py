"""The desk: rules and the examples and exercises that they judge, side by side in a browser on this machine."""
