"""What comes back: collected, guarded, read, repaired, validated and judged."""
