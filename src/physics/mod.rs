//! physics
