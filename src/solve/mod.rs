//! solve
