//! The database itself: its file, its one writer, its readers, and the proof that it is sound.

pub(super) mod changes;
pub mod check;
pub(super) mod commits;
pub(super) mod connect;
pub(super) mod digests;
pub(super) mod disk;
pub(super) mod encoding;
pub(super) mod error;
pub mod integrity;
pub(super) mod migrate;
pub(super) mod open;
pub mod own_files;
pub(super) mod receipts;
pub(super) mod releases;
pub mod schema;
pub mod server_secrets;
pub(super) mod stamp;
pub(super) mod standing;
pub(super) mod writer;
