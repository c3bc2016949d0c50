//! How strings are made and set. Knows lengths, strands and heights; nothing of members, storage
//! or wear.
pub mod brace_height;
pub mod strand_count;
