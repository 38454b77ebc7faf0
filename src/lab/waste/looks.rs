//! When somebody must look at a container again.

use jiff::civil::Date;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        site::{Site, site_waste::SiteWaste},
        waste::{container::Container, look::look_due},
    },
    store::{Error, waste::looks},
};

/// The day by which somebody must look at a container again, by the site's own rule; `None` where there is none.
///
/// # Errors
/// When the database cannot be used.
pub async fn due(
    conn: &mut SqliteConnection,
    container: &Container,
    site: &Site,
    waste: &SiteWaste,
) -> Result<Option<Date>, Error> {
    let Some(every) = waste.look_every_days.filter(|_| !container.is_removed() && !container.is_put_away()) else {
        return Ok(None);
    };
    let looks = looks::list_of(conn, container.id).await?;
    let last = looks.iter().find(|look| look.taken_back.is_none()).map(|look| look.looked_at);
    Ok(look_due(last, container.first_drop_at, every, &site.zone))
}
