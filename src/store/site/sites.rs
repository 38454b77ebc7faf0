//! The site. A server keeps one for now; records name it, so that there may be more.

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::domain::{ids::SiteId, instant::Instant, site::Site};

use crate::store::Error;

struct SiteRow {
    id: SiteId,
    name: String,
    place: String,
    time_zone: String,
    latitude_udeg: Option<i64>,
    longitude_udeg: Option<i64>,
    elevation_m: i64,
    disposal_contact: String,
    waste_title: String,
    emergency_line: String,
    silver_limit_ug_per_l: Option<i64>,
    silver_limit_source: String,
    version: i64,
}

impl TryFrom<SiteRow> for Site {
    type Error = Error;
    fn try_from(row: SiteRow) -> Result<Self, Error> {
        let zone = TimeZone::get(&row.time_zone).map_err(|_| Error::Inconsistent {
            table: "site",
            column: "time_zone",
            id: row.id.to_string(),
        })?;
        Ok(Self {
            id: row.id,
            name: row.name,
            place: row.place,
            zone,
            position: row.latitude_udeg.zip(row.longitude_udeg),
            elevation_m: row.elevation_m,
            disposal_contact: row.disposal_contact,
            waste_title: row.waste_title,
            emergency_line: row.emergency_line,
            silver_limit_ug_per_l: row.silver_limit_ug_per_l,
            silver_limit_source: row.silver_limit_source,
            version: row.version,
        })
    }
}

/// The site, if one was set up.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection) -> Result<Option<Site>, Error> {
    let row = sqlx::query_as!(
        SiteRow,
        "SELECT id, name, place, time_zone, disposal_contact, waste_title, emergency_line,
                silver_limit_ug_per_l, silver_limit_source, latitude_udeg, longitude_udeg, elevation_m, version
         FROM site ORDER BY created_at, id LIMIT 1"
    )
    .fetch_optional(conn)
    .await?;
    row.map(Site::try_from).transpose()
}

/// Stores a new site.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, site: &Site, at: Instant) -> Result<(), Error> {
    let zone = site.zone.iana_name().unwrap_or("UTC");
    let (latitude, longitude) = site.position.unzip();
    sqlx::query!(
        "INSERT INTO site (id, name, place, time_zone, disposal_contact, waste_title, emergency_line,
                           silver_limit_ug_per_l, silver_limit_source, latitude_udeg, longitude_udeg, elevation_m,
                           created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        site.id,
        site.name,
        site.place,
        zone,
        site.disposal_contact,
        site.waste_title,
        site.emergency_line,
        site.silver_limit_ug_per_l,
        site.silver_limit_source,
        latitude,
        longitude,
        site.elevation_m,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores an edited site if its version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, site: &Site) -> Result<bool, Error> {
    let zone = site.zone.iana_name().unwrap_or("UTC");
    let (latitude, longitude) = site.position.unzip();
    let done = sqlx::query!(
        "UPDATE site SET name = ?, place = ?, time_zone = ?, disposal_contact = ?, waste_title = ?,
                emergency_line = ?, silver_limit_ug_per_l = ?, silver_limit_source = ?, latitude_udeg = ?,
                longitude_udeg = ?, elevation_m = ?, version = version + 1
         WHERE id = ? AND version = ?",
        site.name,
        site.place,
        zone,
        site.disposal_contact,
        site.waste_title,
        site.emergency_line,
        site.silver_limit_ug_per_l,
        site.silver_limit_source,
        latitude,
        longitude,
        site.elevation_m,
        site.id,
        site.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}
