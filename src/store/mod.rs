//! Everything that touches the database: the only place with SQL.
//!
//! Reading functions take a connection; writing functions take the connection of the one writer,
//! inside the closure given to [`Store::write`].

pub mod baths;
pub mod book;
pub mod camera;
pub mod engine;
pub mod evening;
pub mod exposure;
pub mod marking;
pub mod people;
pub mod site;
pub mod stock;
pub mod waste;

pub use engine::changes::Changed;
pub use engine::commits::Counted;
pub use engine::digests::count_rows;
pub use engine::error::{Error, Stale, WriteError};
pub use engine::migrate::{MIGRATIONS, OpenError, is_current, is_ours};
pub use engine::open::{Disk, ReadConnection, Store, copy, copy_into, fold_log, look_at};
pub use engine::standing::{FileId, Trouble};
pub use engine::writer::{Stamp, Work};

/// Where a write led: the path of the page that shows what was saved.
pub type Landing = String;
