//! The lines that another process prints, and waiting for one of them.

use std::{
    io::{BufRead, BufReader, Read},
    sync::{Arc, Mutex},
    thread,
    time::{Duration, Instant},
};

/// Asks again and again until there is an answer.
///
/// # Panics
/// When there is none in good time.
#[track_caller]
pub(crate) fn until<T>(waiting_for: &str, mut ask: impl FnMut() -> Option<T>) -> T {
    let patience = Duration::from_secs(30);
    let began = Instant::now();
    loop {
        if let Some(answer) = ask() {
            return answer;
        }
        assert!(began.elapsed() < patience, "waited {patience:?} for {waiting_for}");
        thread::sleep(Duration::from_millis(10));
    }
}

/// Everything that was printed so far. It is read all the time, so that no printer ever blocks.
#[derive(Clone)]
pub(crate) struct Lines(Arc<Mutex<Printed>>);

#[derive(Default)]
struct Printed {
    lines: Vec<String>,
    ended: bool,
}

impl Lines {
    pub(crate) fn of(from: impl Read + Send + 'static) -> Self {
        let printed = Arc::new(Mutex::new(Printed::default()));
        let filled = Arc::clone(&printed);
        thread::spawn(move || {
            for line in BufReader::new(from).lines().map_while(Result::ok) {
                filled.lock().unwrap().lines.push(line);
            }
            filled.lock().unwrap().ended = true;
        });
        Self(printed)
    }

    /// The first line that begins with that, waiting for it.
    #[track_caller]
    pub(crate) fn wait_for(&self, beginning: &str) -> String {
        let found = self.wait_for_or_end(beginning);
        found.unwrap_or_else(|| panic!("it ended without {beginning:?}: {}", self.whole()))
    }

    /// The first line that holds that, waiting for it.
    #[track_caller]
    pub(crate) fn wait_for_part(&self, part: &str) -> String {
        until(&format!("a line with {part:?}"), || {
            let printed = self.0.lock().unwrap();
            printed.lines.iter().find(|line| line.contains(part)).cloned()
        })
    }

    /// The first line that begins with that; none if the printer ends without it.
    #[track_caller]
    pub(crate) fn wait_for_or_end(&self, beginning: &str) -> Option<String> {
        until(&format!("a line that begins with {beginning:?}"), || {
            let printed = self.0.lock().unwrap();
            let found = printed.lines.iter().find(|line| line.starts_with(beginning)).cloned();
            (found.is_some() || printed.ended).then_some(found)
        })
    }

    /// All of it, once the printer has ended.
    #[track_caller]
    pub(crate) fn whole(&self) -> String {
        until("the end of what is printed", || {
            let printed = self.0.lock().unwrap();
            printed
                .ended
                .then(|| printed.lines.iter().flat_map(|line| [line.as_str(), "\n"]).collect())
        })
    }
}
