"""The compiler: each rule of the typed tree becomes a finite-memory monitor."""
