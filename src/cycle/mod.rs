//! cycle
