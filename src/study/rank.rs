//! The best sets of treatments and measures for the money.
