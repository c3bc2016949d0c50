//! A folder of messages, one file each, whole or not there at all. It knows no relay.

use std::{
    fs::{self, File},
    io::{self, Write},
    path::{Path, PathBuf},
    process,
    sync::atomic::{AtomicU64, Ordering},
};

use lettre::Message;

use super::{Receipt, SendError, quote::quote};

/// Tells this process's half-written files apart.
static NEXT: AtomicU64 = AtomicU64::new(0);

/// A folder of `.eml` files.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
}

impl Folder {
    pub(super) fn new(path: PathBuf) -> Self {
        Self { path }
    }

    /// Writes the message as `<name>.eml`, in place of a file of that name.
    pub(super) async fn put(&self, message: &Message, name: &str) -> Result<Receipt, SendError> {
        let is_name = |b: u8| b.is_ascii_alphanumeric() || b == b'-' || b == b'_';
        if name.is_empty() || name.len() > 200 || !name.bytes().all(is_name) {
            let why = "a file's name is made of letters, digits, - and _";
            return Err(SendError::Dead(format!("{}: {why}", quote(name))));
        }
        let (folder, bytes) = (self.path.clone(), message.formatted());
        let path = folder.join(format!("{name}.eml"));
        let half = folder.join(format!(
            ".{name}.{}-{}.tmp",
            process::id(),
            NEXT.fetch_add(1, Ordering::Relaxed)
        ));
        let answer = quote(&format!("written to {}", path.display()));
        let failed = quote(&format!("cannot write {}", path.display()));
        // Even cut off, the thread runs to its end and leaves a whole file or none.
        match tokio::task::spawn_blocking(move || replace(&folder, &half, &path, &bytes)).await {
            Ok(Ok(())) => Ok(Receipt { answer, refused: Vec::new() }),
            Ok(Err(error)) => Err(SendError::Retry(quote(&format!("{failed}: {error}")))),
            Err(error) => Err(SendError::Retry(quote(&format!("{failed}: {error}")))),
        }
    }
}

/// Puts `bytes` at `path` by way of `half`, a file in the same folder. A crash at any moment
/// leaves the old file or the new one, never a part of it.
fn replace(folder: &Path, half: &Path, path: &Path, bytes: &[u8]) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    let written = write_through(half, bytes).and_then(|()| fs::rename(half, path));
    if let Err(error) = written {
        // What is left of it only takes room; that it cannot be removed adds nothing.
        let _ = fs::remove_file(half);
        return Err(error);
    }
    sync_folder(folder)
}

fn write_through(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// Makes the new name last as well. Only Unix lets a folder be opened for that.
#[cfg(unix)]
fn sync_folder(folder: &Path) -> io::Result<()> {
    File::open(folder)?.sync_all()
}

#[cfg(not(unix))]
fn sync_folder(_: &Path) -> io::Result<()> {
    Ok(())
}
