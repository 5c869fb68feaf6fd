//! network
