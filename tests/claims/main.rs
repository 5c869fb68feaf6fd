//! Suppliers' numbers: how they were measured, and whether they can be true.

mod instruments;
mod plan;
mod point;
mod program;
mod verdicts;
