//! Everything that touches the database: the only place with SQL.
//!
//! Reading functions take a connection; writing functions take the connection of the one writer,
//! inside the closure given to [`Store::write`].

pub mod accounts;
pub mod announcements;
pub mod batches;
pub mod book;
pub mod cameras;
pub mod change_log;
mod changes;
pub mod check;
pub mod clearing_tests;
mod commits;
pub mod container_clocks;
pub mod containers;
pub mod deadlines;
mod digests;
mod encoding;
mod error;
pub mod exposure_lines;
pub mod exposures;
pub mod films;
pub mod given_statements;
pub mod help_calls;
pub mod holes;
pub mod integrity;
pub mod keeping;
pub mod kept_deadlines;
pub mod lab_sessions;
pub mod looks;
pub mod marks;
mod migrate;
pub mod movements;
mod open;
pub mod own_figures;
pub mod own_files;
pub mod paper_boxes;
pub mod paper_sizes;
pub mod papers;
pub mod people;
pub mod prints;
pub mod products;
pub mod readings;
mod receipts;
pub mod recoveries;
pub mod removals;
pub mod report_pictures;
pub mod reports;
pub mod reversals;
pub mod rubrics;
pub mod schema;
pub mod scraps;
pub mod sections;
pub mod seen;
pub mod server_secrets;
pub mod sheet_counts;
pub mod sheet_runs;
pub mod sheet_ways;
pub mod sign_ins;
pub mod site_rules;
pub mod site_waste;
pub mod sites;
mod standing;
pub mod stock_phrases;
pub mod students;
pub mod tray_lines;
pub mod tray_slots;
pub mod trays;
pub mod walk_ins;
mod writer;

pub use changes::Changed;
pub use commits::Counted;
pub use digests::count_rows;
pub use error::{Error, Stale, WriteError};
pub use migrate::{MIGRATIONS, OpenError, is_current, is_ours};
pub use open::{Disk, ReadConnection, Store, copy, copy_into, fold_log, look_at};
pub use standing::{FileId, Trouble};
pub use writer::{Stamp, Work};

/// Where a write led: the path of the page that shows what was saved.
pub type Landing = String;
