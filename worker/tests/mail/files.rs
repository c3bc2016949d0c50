//! Messages as files: whole, replaced by name, and nowhere but in their folder.

use std::{
    env, fs,
    path::{Path, PathBuf},
    process,
    sync::atomic::{AtomicU32, Ordering},
};

use worker::mail::{Letter, Partly, SendError, Transport};

use crate::letters::{letter, message};

/// A folder that is gone when the test has passed.
struct Fresh(PathBuf);

impl Fresh {
    fn new() -> Self {
        static NUMBER: AtomicU32 = AtomicU32::new(0);
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let path = env::temp_dir().join(format!("tautline-mail-{}-{number}", process::id()));
        fs::create_dir(&path).unwrap();
        Self(path)
    }

    fn names(&self, below: &str) -> Vec<String> {
        let entries = fs::read_dir(self.0.join(below)).unwrap();
        let mut names: Vec<_> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

impl Drop for Fresh {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

async fn put(folder: &Path, name: &str, text: &str) -> Result<String, SendError> {
    let letter = Letter { text: text.to_owned(), ..letter() };
    let message = message(&letter, "Invented Archers", "Ada Example").unwrap();
    Transport::files(folder).send(&message, name, Partly::Wait).await.map(|receipt| receipt.answer)
}

#[tokio::test]
async fn a_message_is_written_whole_into_a_folder_made_for_it() {
    let fresh = Fresh::new();
    let folder = fresh.0.join("post/out");
    let answer = put(&folder, "0197-a_b", "first\n").await.unwrap();
    assert_eq!(answer, format!("written to {}", folder.join("0197-a_b.eml").display()));
    assert_eq!(fresh.names("post/out"), ["0197-a_b.eml"]);
    let written = fs::read_to_string(folder.join("0197-a_b.eml")).unwrap();
    assert!(written.contains("\r\nfirst\r\n") && written.ends_with("--\r\n"), "{written}");
}

#[tokio::test]
async fn the_same_mail_again_takes_its_own_place() {
    let fresh = Fresh::new();
    put(&fresh.0, "mail", "first\n").await.unwrap();
    put(&fresh.0, "mail", "second\n").await.unwrap();
    put(&fresh.0, "other", "third\n").await.unwrap();
    assert_eq!(fresh.names("."), ["mail.eml", "other.eml"]);
    let written = fs::read_to_string(fresh.0.join("mail.eml")).unwrap();
    assert!(written.contains("second") && !written.contains("first"), "{written}");
}

#[tokio::test]
async fn a_name_cannot_leave_the_folder() {
    let fresh = Fresh::new();
    for bad in ["", "..", "../up", "a/b", "a\\b", "a.b", "a\0b", &"x".repeat(201)] {
        let outcome = put(&fresh.0, bad, "text\n").await;
        assert!(matches!(outcome, Err(SendError::Dead(_))), "{bad:?}: {outcome:?}");
    }
    assert_eq!(fresh.names("."), [""; 0]);
}

#[tokio::test]
async fn a_folder_that_cannot_be_written_means_try_again_and_leaves_nothing_behind() {
    let fresh = Fresh::new();
    fs::write(fresh.0.join("file"), "in the way").unwrap();
    let outcome = put(&fresh.0.join("file"), "mail", "text\n").await;
    assert!(matches!(&outcome, Err(SendError::Retry(why)) if why.contains("cannot write")));
    fs::create_dir(fresh.0.join("mail.eml")).unwrap();
    assert!(matches!(put(&fresh.0, "mail", "text\n").await, Err(SendError::Retry(_))));
    assert_eq!(fresh.names("."), ["file", "mail.eml"]);
}
