"""The music core: spelled pitches and intervals as integers, modes and motion."""
