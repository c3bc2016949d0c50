//! Instants, ids and dates, stored natively by each database behind one Rust face.
//!
//! | here | PostgreSQL | SQLite |
//! |---|---|---|
//! | [`Utc`] | `timestamptz` | microseconds since 1970 |
//! | [`Key`] | `uuid` | 16 bytes |
//! | [`Day`] | `date` | `YYYY-MM-DD` |

use std::io::Write;

use diesel::{
    backend::Backend,
    deserialize::{self, FromSql, FromSqlRow},
    expression::AsExpression,
    pg::{Pg, PgValue},
    query_builder::QueryId,
    serialize::{self, IsNull, Output, ToSql},
    sql_types::{BigInt, HasSqlType, SqlOrd, SqlType, Text},
    sqlite::{Sqlite, SqliteValue},
};
use jiff::{Timestamp, civil::Date};
use uuid::Uuid;

use crate::conn::MultiBackend;

/// The SQL type of [`Utc`].
#[derive(Debug, Clone, Copy, Default, SqlType, QueryId)]
#[diesel(postgres_type(name = "timestamptz"), sqlite_type(name = "Long"))]
pub struct UtcSql;
impl SqlOrd for UtcSql {}

/// The SQL type of [`Key`].
#[derive(Debug, Clone, Copy, Default, SqlType, QueryId)]
#[diesel(postgres_type(name = "uuid"), sqlite_type(name = "Binary"))]
pub struct KeySql;

/// The SQL type of [`Day`].
#[derive(Debug, Clone, Copy, Default, SqlType, QueryId)]
#[diesel(postgres_type(name = "date"), sqlite_type(name = "Text"))]
pub struct DaySql;

/// An instant, to the microsecond.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, AsExpression, FromSqlRow)]
#[diesel(sql_type = UtcSql)]
pub struct Utc(pub Timestamp);

/// An id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, AsExpression, FromSqlRow)]
#[diesel(sql_type = KeySql)]
pub struct Key(pub Uuid);

/// A calendar date.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, AsExpression, FromSqlRow)]
#[diesel(sql_type = DaySql)]
pub struct Day(pub Date);

/// Lets a type that both databases know be used on either.
macro_rules! on_either {
    ($rust:ty, $sql:ty) => {
        impl HasSqlType<$sql> for MultiBackend {
            fn metadata(lookup: &mut Self::MetadataLookup) -> Self::TypeMetadata {
                MultiBackend::lookup_sql_type::<$sql>(lookup)
            }
        }

        impl FromSql<$sql, MultiBackend> for $rust {
            fn from_sql(
                value: <MultiBackend as Backend>::RawValue<'_>,
            ) -> deserialize::Result<Self> {
                value.from_sql::<$rust, $sql>()
            }
        }

        impl ToSql<$sql, MultiBackend> for $rust {
            fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, MultiBackend>) -> serialize::Result {
                out.set_value((<$sql>::default(), self));
                Ok(IsNull::No)
            }
        }
    };
}
on_either!(Utc, UtcSql);
on_either!(Key, KeySql);
on_either!(Day, DaySql);

/// PostgreSQL counts from 2000-01-01.
const PG_EPOCH_US: i64 = 946_684_800_000_000;
const PG_EPOCH: Date = Date::constant(2000, 1, 1);

impl ToSql<UtcSql, Pg> for Utc {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Pg>) -> serialize::Result {
        out.write_all(&(self.0.as_microsecond() - PG_EPOCH_US).to_be_bytes())?;
        Ok(IsNull::No)
    }
}

impl FromSql<UtcSql, Pg> for Utc {
    fn from_sql(value: PgValue<'_>) -> deserialize::Result<Self> {
        let since_2000 = i64::from_be_bytes(value.as_bytes().try_into()?);
        Ok(Self(Timestamp::from_microsecond(since_2000.saturating_add(PG_EPOCH_US))?))
    }
}

impl ToSql<UtcSql, Sqlite> for Utc {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Sqlite>) -> serialize::Result {
        out.set_value(self.0.as_microsecond());
        Ok(IsNull::No)
    }
}

impl FromSql<UtcSql, Sqlite> for Utc {
    fn from_sql(value: SqliteValue<'_, '_, '_>) -> deserialize::Result<Self> {
        let since_1970 = <i64 as FromSql<BigInt, Sqlite>>::from_sql(value)?;
        Ok(Self(Timestamp::from_microsecond(since_1970)?))
    }
}

impl ToSql<KeySql, Pg> for Key {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Pg>) -> serialize::Result {
        out.write_all(self.0.as_bytes())?;
        Ok(IsNull::No)
    }
}

impl FromSql<KeySql, Pg> for Key {
    fn from_sql(value: PgValue<'_>) -> deserialize::Result<Self> {
        Ok(Self(Uuid::from_slice(value.as_bytes())?))
    }
}

impl ToSql<KeySql, Sqlite> for Key {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Sqlite>) -> serialize::Result {
        out.set_value(self.0.as_bytes().as_slice());
        Ok(IsNull::No)
    }
}

impl FromSql<KeySql, Sqlite> for Key {
    fn from_sql(mut value: SqliteValue<'_, '_, '_>) -> deserialize::Result<Self> {
        Ok(Self(Uuid::from_slice(value.read_blob())?))
    }
}

impl ToSql<DaySql, Pg> for Day {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Pg>) -> serialize::Result {
        out.write_all(&PG_EPOCH.until(self.0)?.get_days().to_be_bytes())?;
        Ok(IsNull::No)
    }
}

impl FromSql<DaySql, Pg> for Day {
    fn from_sql(value: PgValue<'_>) -> deserialize::Result<Self> {
        let days = i32::from_be_bytes(value.as_bytes().try_into()?);
        Ok(Self(PG_EPOCH.checked_add(jiff::Span::new().try_days(days)?)?))
    }
}

impl ToSql<DaySql, Sqlite> for Day {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Sqlite>) -> serialize::Result {
        out.set_value(self.0.to_string());
        Ok(IsNull::No)
    }
}

impl FromSql<DaySql, Sqlite> for Day {
    fn from_sql(value: SqliteValue<'_, '_, '_>) -> deserialize::Result<Self> {
        Ok(Self(<String as FromSql<Text, Sqlite>>::from_sql(value)?.parse()?))
    }
}
