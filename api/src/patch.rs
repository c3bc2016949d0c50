//! Fields of a merge patch (RFC 7396): one that is absent stays as it is, null clears it.

use serde::{Deserialize, Deserializer};

/// A field that may be absent, and that null clears.
pub(crate) type Clearable<T> = Option<Option<T>>;

/// Reads a field that was given: null is a value of its own. With `#[serde(default)]` an absent one is
/// `None`.
pub(crate) fn change<'de, T, D>(from: D) -> Result<Clearable<T>, D::Error>
where
    T: Deserialize<'de>,
    D: Deserializer<'de>,
{
    Option::deserialize(from).map(Some)
}

/// Reads a field that cannot be cleared: null is refused, not passed over.
pub(crate) fn replacement<'de, T, D>(from: D) -> Result<Option<T>, D::Error>
where
    T: Deserialize<'de>,
    D: Deserializer<'de>,
{
    T::deserialize(from).map(Some)
}

/// A value after a change: as it was, if the field is absent.
pub(crate) fn stays<T: Clone, U>(
    given: Option<U>,
    before: &T,
    parse: impl FnOnce(U) -> Option<T>,
) -> Option<T> {
    given.map_or_else(|| Some(before.clone()), parse)
}

/// The same for a value that null clears. Nothing is returned if what was given cannot be.
pub(crate) fn stays_or_clears<T: Clone, U>(
    given: Clearable<U>,
    before: Option<&T>,
    parse: impl FnOnce(U) -> Option<T>,
) -> Clearable<T> {
    match given {
        None => Some(before.cloned()),
        Some(None) => Some(None),
        Some(Some(given)) => parse(given).map(Some),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, PartialEq, Deserialize)]
    struct Patch {
        #[serde(default, deserialize_with = "change")]
        keeper: Clearable<i64>,
        #[serde(default, deserialize_with = "replacement")]
        shots: Option<i64>,
    }

    #[test]
    fn absent_is_not_null() {
        let read = |text: &str| serde_json::from_str::<Patch>(text).ok();
        assert_eq!(read("{}"), Some(Patch { keeper: None, shots: None }));
        let cleared = Patch { keeper: Some(None), shots: None };
        assert_eq!(read(r#"{"keeper":null}"#), Some(cleared));
        let set = Patch { keeper: Some(Some(1)), shots: Some(2) };
        assert_eq!(read(r#"{"keeper":1,"shots":2}"#), Some(set));
        assert_eq!(read(r#"{"shots":null}"#), None);
    }
}
