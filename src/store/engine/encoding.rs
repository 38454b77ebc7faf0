//! How ids and instants stand in the database.

use sqlx::{
    Decode, Encode, Sqlite, Type,
    encode::IsNull,
    error::BoxDynError,
    sqlite::{SqliteArgumentsBuffer, SqliteTypeInfo, SqliteValueRef},
};
use uuid::Uuid;

use crate::domain::{
    ids::{self, Id, for_each_id},
    instant::Instant,
};

macro_rules! encode_ids {
    ($($name:ident)*) => {$(
        impl Type<Sqlite> for ids::$name {
            fn type_info() -> SqliteTypeInfo {
                <Uuid as Type<Sqlite>>::type_info()
            }
            fn compatible(ty: &SqliteTypeInfo) -> bool {
                <Uuid as Type<Sqlite>>::compatible(ty)
            }
        }
        impl Encode<'_, Sqlite> for ids::$name {
            fn encode_by_ref(&self, buffer: &mut SqliteArgumentsBuffer) -> Result<IsNull, BoxDynError> {
                self.as_uuid().encode_by_ref(buffer)
            }
        }
        impl<'r> Decode<'r, Sqlite> for ids::$name {
            fn decode(value: SqliteValueRef<'r>) -> Result<Self, BoxDynError> {
                Uuid::decode(value).map(Self::from_uuid)
            }
        }
    )*};
}
for_each_id!(encode_ids);

impl Type<Sqlite> for Instant {
    fn type_info() -> SqliteTypeInfo {
        <i64 as Type<Sqlite>>::type_info()
    }
    fn compatible(ty: &SqliteTypeInfo) -> bool {
        <i64 as Type<Sqlite>>::compatible(ty)
    }
}

impl Encode<'_, Sqlite> for Instant {
    fn encode_by_ref(&self, buffer: &mut SqliteArgumentsBuffer) -> Result<IsNull, BoxDynError> {
        self.as_micros().encode_by_ref(buffer)
    }
}

impl<'r> Decode<'r, Sqlite> for Instant {
    fn decode(value: SqliteValueRef<'r>) -> Result<Self, BoxDynError> {
        Ok(Self::from_micros(i64::decode(value)?)?)
    }
}
