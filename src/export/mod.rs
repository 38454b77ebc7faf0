//! CSV files (RFC 4180) from stored values: the same bytes from a page and from `shimlight export`.
//!
//! Every file is built as a [`table::Table`] of typed [`cell::Cell`]s, so that what is text is
//! guarded against being run as a formula, and what is a number stays one.

pub mod cell;
pub mod chemistry;
pub mod disposal_log;
pub mod everything;
pub mod exposures;
pub mod file_name;
mod labels;
pub mod marks;
pub mod oneroster;
pub mod roster;
pub mod silver_book;
pub mod table;
pub mod year_statement;

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::store::{self, site::sites};

pub use cell::Cell;
pub use everything::write as write_everything;
pub use table::Table;

/// A file of the whole site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SiteFile {
    /// Every exposure.
    Exposures,
    /// Every batch.
    Chemistry,
    /// Every entry of the silver book.
    SilverBook,
    /// Every movement of waste.
    DisposalLog,
    /// Each year's statement of waste.
    YearStatement,
}

impl SiteFile {
    /// All of them, in the order they are listed.
    pub const ALL: [Self; 5] =
        [Self::Exposures, Self::Chemistry, Self::SilverBook, Self::DisposalLog, Self::YearStatement];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Exposures => "exposures.csv",
            Self::Chemistry => "chemistry.csv",
            Self::SilverBook => "silver-book.csv",
            Self::DisposalLog => "disposal-log.csv",
            Self::YearStatement => "year-statement.csv",
        }
    }

    /// What is in it, for people.
    pub fn holds(self) -> &'static str {
        match self {
            Self::Exposures => "every exposure: camera, light, forecast, time made, how it came out",
            Self::Chemistry => "every batch: what it was mixed from, how much of it is used, its silver, where it went",
            Self::SilverBook => "every movement of solution and silver, mistakes and what takes them back among them",
            Self::DisposalLog => "every movement into, within and out of a waste container, with dates and carriers",
            Self::YearStatement => "each year’s waste: at its start, what came, what went and how, at its end",
        }
    }

    /// The file of that name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|file| file.name() == name)
    }

    /// Its bytes.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn bytes(self, conn: &mut SqliteConnection) -> Result<Vec<u8>, store::Error> {
        match self {
            Self::Exposures => exposures::bytes(conn, None).await,
            Self::Chemistry => chemistry::bytes(conn).await,
            Self::SilverBook => silver_book::bytes(conn).await,
            Self::DisposalLog => disposal_log::bytes(conn).await,
            Self::YearStatement => year_statement::bytes(conn).await,
        }
    }
}

/// The zone whose offset moments carry; UTC while no site is set up.
///
/// # Errors
/// When the database cannot be used.
pub async fn zone_of(conn: &mut SqliteConnection) -> Result<TimeZone, store::Error> {
    Ok(sites::find(conn).await?.map_or(TimeZone::UTC, |site| site.zone))
}
