//! Where new ids come from.

use jiff::Timestamp;
use uuid::{Uuid, timestamp::context::ContextV7};

use std::sync::Mutex;

/// Keeps ids made within one millisecond in the order in which they were made.
static SEQUENCE: Mutex<ContextV7> = Mutex::new(ContextV7::new());

/// A new id: a UUID of version 7 (RFC 9562), so that rows made later sort later.
#[must_use]
pub fn fresh_id<T: From<Uuid>>(now: Timestamp) -> T {
    let seconds = u64::try_from(now.as_second()).unwrap_or(0);
    let nanoseconds = u32::try_from(now.subsec_nanosecond()).unwrap_or(0);
    Uuid::new_v7(uuid::Timestamp::from_unix(&SEQUENCE, seconds, nanoseconds)).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_of_one_moment_sort_in_the_order_they_were_made() {
        let now = Timestamp::from_second(1_800_000_000).unwrap();
        let ids: Vec<Uuid> = (0..1_000).map(|_| fresh_id(now)).collect();
        assert!(ids.windows(2).all(|pair| pair[0] < pair[1]));
    }
}
