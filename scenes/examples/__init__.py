"""What the musician writes, by examples."""
