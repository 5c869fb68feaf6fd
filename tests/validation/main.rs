//! Published and independently computed values against the library. Values live in `data/reference/`.

mod architecture;
mod closed_forms;
mod materials;
mod properties;
mod reference;
mod transfer;
