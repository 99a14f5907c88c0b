use serde::{Deserialize, Serialize};

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
        )]
        #[serde(transparent)]
        pub struct $name(pub i64);

        impl rusqlite::ToSql for $name {
            fn to_sql(&self) -> rusqlite::Result<rusqlite::types::ToSqlOutput<'_>> {
                self.0.to_sql()
            }
        }

        impl rusqlite::types::FromSql for $name {
            fn column_result(
                value: rusqlite::types::ValueRef<'_>,
            ) -> rusqlite::types::FromSqlResult<Self> {
                i64::column_result(value).map(Self)
            }
        }
    )*};
}

ids! {
    /// A vehicle's number in this database.
    VehicleId;
    /// A visit's number in this database.
    VisitId;
    /// A customer's number in this database.
    CustomerId;
    /// A repair's number in this database.
    RepairId;
    /// A fill-up's number in this database.
    FillUpId;
    /// A follow-up's number in this database.
    FollowUpId;
    /// A photo's number in this database.
    PhotoId;
}
