//! Options side by side over the same cycle and day, with common draws.
