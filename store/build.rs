//! Rebuilds the crate when a migration is added: they are embedded, and cargo would not notice.

fn main() {
    println!("cargo:rerun-if-changed=../migrations");
}
