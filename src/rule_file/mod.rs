//! A rule book as a file, so that clubs can share one: `tautline export rules`, `import rules`.

mod apply;
mod command;
mod file;
mod names;

pub(crate) use command::{export, import};
