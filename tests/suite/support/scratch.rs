//! A folder of a test's own, gone afterwards.

use std::{
    path::{Path, PathBuf},
    process,
    sync::atomic::{AtomicU32, Ordering},
};

static NUMBER: AtomicU32 = AtomicU32::new(0);

pub(crate) struct Scratch(PathBuf);

impl Scratch {
    pub(crate) fn new() -> Self {
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let folder =
            std::env::temp_dir().join(format!("tautline-suite-{}-{number}", process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        Self(folder)
    }

    pub(crate) fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        drop(std::fs::remove_dir_all(&self.0));
    }
}
