//! A JSON object where an object is meant.
//!
//! Serde's derived code also reads a struct from an array, field by field in the order of their
//! declaration. That is no form this API has promised, so it is refused.

use std::{fmt, marker::PhantomData};

use serde::{
    Deserialize, Deserializer,
    de::{DeserializeOwned, MapAccess, Visitor, value::MapAccessDeserializer},
};

/// A value that was written as a JSON object.
#[derive(Debug, Clone)]
pub(crate) struct Object<T>(pub(crate) T);

impl<'de, T: DeserializeOwned> Deserialize<'de> for Object<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Fields<T>(PhantomData<T>);

        impl<'de, T: DeserializeOwned> Visitor<'de> for Fields<T> {
            type Value = T;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<T, A::Error> {
                T::deserialize(MapAccessDeserializer::new(map))
            }
        }

        from.deserialize_map(Fields(PhantomData)).map(Self)
    }
}
