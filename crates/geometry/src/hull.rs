//! Planar convex hull and its perimeter: the taut tape.
