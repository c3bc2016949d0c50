//! One way to write a closed list of words: an enum, its spelling, and the way back.
//!
//! The spelling is the same in the database, on the wire and in prose, so it lives with the word.

/// Declares an enum whose variants have one spelling each, with `ALL`, `as_str` and `parse`.
macro_rules! words {
    ($(#[$meta:meta])* pub enum $name:ident { $($(#[$doc:meta])* $variant:ident = $word:literal,)+ }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$doc])* $variant,)+ }

        impl $name {
            /// Every word of the list, in the order of the declaration.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// How the word is spelt, in the database and on the wire.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }

            /// The word spelt so, if there is one.
            #[must_use]
            pub fn parse(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$variant),)+ _ => None }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.as_str())
            }
        }
    };
}
pub(crate) use words;
