//! x
mod reckon;
