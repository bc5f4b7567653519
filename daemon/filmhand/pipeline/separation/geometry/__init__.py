"""From the shares and tones of inks to bits at device resolution: regions, traps, areas."""
