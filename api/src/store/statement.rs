//! SQL that both engines read and diesel prepares only once.
//!
//! diesel 2.3 caches a prepared statement only when its type names it, and prepares upserts,
//! updates and raw SQL anew each time (7 times the cost of the statement itself). So every
//! statement of the store is one marker type made by `statement!`: its text, written once for
//! both engines with `?` for each bind, and the types of the columns it returns.

use diesel::pg::Pg;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::result::QueryResult;
use diesel::sql_types::{Array, BigInt, Binary, Nullable, Text};
use diesel::sqlite::Sqlite;
use std::marker::PhantomData;

/// A statement: what it says and what it returns.
pub trait Sql: 'static {
    /// The text, with `?` where a bind stands.
    const TEXT: &'static str;
    /// The diesel types of the returned columns; `()` when it returns none.
    type Row;
}

/// Declares statements: `statement! { NewestEntry: "SELECT ..." => (BigInt, Binary) }`.
macro_rules! statement {
    ($($(#[$doc:meta])* $name:ident : $text:expr $(=> $row:ty)? ;)+) => {$(
        $(#[$doc])*
        pub(crate) struct $name;
        impl $crate::store::statement::Sql for $name {
            const TEXT: &'static str = $text;
            type Row = statement!(@row $($row)?);
        }
    )+};
    (@row) => { () };
    (@row $row:ty) => { $row };
}
pub(crate) use statement;

/// A value bound to a `?`.
#[derive(Clone, Copy, Debug)]
#[allow(missing_docs)]
pub enum Bind<'a> {
    Int(i64),
    Text(&'a str),
    Bytes(&'a [u8]),
    MaybeText(Option<&'a str>),
    MaybeBytes(Option<&'a [u8]>),
    /// A column of values, for `unnest` on PostgreSQL.
    Ints(&'a [i64]),
    Texts(&'a [&'a str]),
    MaybeTexts(&'a [Option<&'a str>]),
    Blobs(&'a [&'a [u8]]),
    MaybeBlobs(&'a [Option<&'a [u8]>]),
}

/// A statement with its binds, ready to run.
pub struct Bound<'a, S> {
    binds: &'a [Bind<'a>],
    statement: PhantomData<S>,
}

impl<'a, S: Sql> Bound<'a, S> {
    /// Binds the values to the statement, in order.
    pub fn new(binds: &'a [Bind<'a>]) -> Bound<'a, S> {
        Bound {
            binds,
            statement: PhantomData,
        }
    }
}

impl<S: Sql> QueryId for Bound<'_, S> {
    type QueryId = S;
    const HAS_STATIC_QUERY_ID: bool = true;
}

impl<S: Sql> Query for Bound<'_, S> {
    type SqlType = S::Row;
}

impl<S: Sql, C> diesel::RunQueryDsl<C> for Bound<'_, S> {}

/// Walks the text, handing each `?` its bind; the caller says how a bind is pushed.
fn walk<'b, S, DB>(
    binds: &'b [Bind<'b>],
    mut out: AstPass<'_, 'b, DB>,
    push: fn(&mut AstPass<'_, 'b, DB>, &'b Bind<'b>) -> QueryResult<()>,
) -> QueryResult<()>
where
    S: Sql,
    DB: diesel::backend::Backend,
{
    let mut pieces = S::TEXT.split('?');
    out.push_sql(pieces.next().unwrap_or_default());
    for (at, piece) in pieces.enumerate() {
        let Some(bind) = binds.get(at) else {
            return Err(wrong(format!("no value for bind {at} of: {}", S::TEXT)));
        };
        push(&mut out, bind)?;
        out.push_sql(piece);
    }
    Ok(())
}

fn wrong(text: String) -> diesel::result::Error {
    diesel::result::Error::QueryBuilderError(text.into())
}

impl<S: Sql> QueryFragment<Sqlite> for Bound<'_, S> {
    fn walk_ast<'b>(&'b self, out: AstPass<'_, 'b, Sqlite>) -> QueryResult<()> {
        walk::<S, Sqlite>(self.binds, out, |out, bind| match bind {
            Bind::Int(value) => out.push_bind_param::<BigInt, _>(value),
            Bind::Text(value) => out.push_bind_param::<Text, _>(value),
            Bind::Bytes(value) => out.push_bind_param::<Binary, _>(value),
            Bind::MaybeText(value) => out.push_bind_param::<Nullable<Text>, _>(value),
            Bind::MaybeBytes(value) => out.push_bind_param::<Nullable<Binary>, _>(value),
            _ => Err(wrong(
                "SQLite takes rows one by one, not columns of values".to_string(),
            )),
        })
    }
}

impl<S: Sql> QueryFragment<Pg> for Bound<'_, S> {
    fn walk_ast<'b>(&'b self, out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        walk::<S, Pg>(self.binds, out, |out, bind| match bind {
            Bind::Int(value) => out.push_bind_param::<BigInt, _>(value),
            Bind::Text(value) => out.push_bind_param::<Text, _>(value),
            Bind::Bytes(value) => out.push_bind_param::<Binary, _>(value),
            Bind::MaybeText(value) => out.push_bind_param::<Nullable<Text>, _>(value),
            Bind::MaybeBytes(value) => out.push_bind_param::<Nullable<Binary>, _>(value),
            Bind::Ints(value) => out.push_bind_param::<Array<BigInt>, _>(value),
            Bind::Texts(value) => out.push_bind_param::<Array<Text>, _>(value),
            Bind::MaybeTexts(value) => out.push_bind_param::<Array<Nullable<Text>>, _>(value),
            Bind::Blobs(value) => out.push_bind_param::<Array<Binary>, _>(value),
            Bind::MaybeBlobs(value) => out.push_bind_param::<Array<Nullable<Binary>>, _>(value),
        })
    }
}
