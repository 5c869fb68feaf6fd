//! Suppliers' numbers: how they were measured, and whether they can be true.

mod instruments;
mod point;
mod verdicts;
