//! The deadlines of containers: worked out from the rules in force while they are here, as kept when
//! they left.

use jiff::{civil::Date, tz::TimeZone};
use sqlx::SqliteConnection;

use crate::domain::{
    site::{Site, site_rule::SiteRule},
    waste::{
        container::Container,
        deadline::{Deadline, deadlines},
        standing_volume::StandingVolume,
    },
};

use super::{containers, kept_deadlines, removals};
use crate::store::{
    Error,
    site::{site_rules, site_waste},
};

/// What deadlines are worked out from.
#[derive(Clone, Debug)]
pub struct DeadlineSources {
    /// The rules in force.
    pub rules: Vec<SiteRule>,
    /// What stands here, over time.
    pub standing: StandingVolume,
    /// The day the carrier comes next, if it was entered.
    pub next_visit: Option<Date>,
    zone: TimeZone,
}

impl DeadlineSources {
    /// As they are now.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn find(conn: &mut SqliteConnection, site: &Site) -> Result<Self, Error> {
        Ok(Self {
            rules: site_rules::list(conn).await?,
            standing: containers::standing_volume(conn).await?,
            next_visit: site_waste::find(conn, site.id).await?.next_removal_on,
            zone: site.zone.clone(),
        })
    }

    /// The rules in force applied to a container.
    pub fn running(&self, container: &Container) -> Vec<Deadline> {
        let past = |volume_ul| self.standing.past_since(volume_ul);
        deadlines(container, &self.rules, &self.zone, self.next_visit, past)
    }

    /// A container's deadlines: what runs, or what applied when it left.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn of(&self, conn: &mut SqliteConnection, container: &Container) -> Result<Vec<Deadline>, Error> {
        if container.is_removed()
            && let Some(removal) = removals::find_of(conn, container.id).await?
            && let Some(kept) = kept_deadlines::list_of(conn, removal.id).await?
        {
            return Ok(kept);
        }
        Ok(self.running(container))
    }
}
