"""Trees to something that can be run: names resolved, dimensions proved, flow lowered to a flat, addressed list."""
