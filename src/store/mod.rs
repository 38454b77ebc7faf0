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
pub use engine::connect::{copy, copy_into, fold_log, look_at};
pub use engine::digests::count_rows;
pub use engine::disk::Disk;
pub use engine::error::{Error, Stale, WriteError};
pub use engine::migrate::OpenError;
pub use engine::open::{ReadConnection, Store};
pub use engine::releases::{MIGRATIONS, is_current, is_ours};
pub use engine::stamp::Stamp;
pub use engine::standing::{FileId, Trouble};
pub use engine::writer::Work;

/// Where a write led: the path of the page that shows what was saved.
pub type Landing = String;
